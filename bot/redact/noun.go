package redact

import "strings"

// view is how many tokens may stand between a noun and its secret.
const view = 12

// noun looks whether token i is a word for a secret, and notes the secret
// that belongs to it.
func (s *scanner) noun(i int) {
	t := s.at(i)
	if t.kind == gone {
		if strings.Contains(t.text, string(Code)) || strings.Contains(t.text, string(Password)) {
			s.chainEnd = i + 1
		}
		return
	}
	k, ok := s.nounKind(i)
	if !ok {
		return
	}
	asserted, strange := false, 0
	for j := i + 1; j <= i+view && j < len(s.tokens); j++ {
		t := s.tokens[j]
		end := s.valueAt(i, j, k, asserted)
		if strange > 0 && end > j {
			end = s.plainValue(j, end, k)
		}
		if end > j {
			s.value, s.valueEnd, s.valueKind = j, end, k
			return
		}
		switch {
		case t.kind == gone, t.kind == word && harmlessAfter[t.text]:
			return
		case t.kind == word && (between[t.text] || codeNouns[t.text] || pinNouns[t.text] || keyNouns[t.text]):
			asserted = asserted || says[t.text]
		case t.kind == digits && len(t.text) <= 2 && !s.measured(j+1):
			// "the code of user 2 is ..."
		case t.kind == mark && strings.Contains(":=-#\"'’(>`*_", t.text):
			asserted = asserted || t.text == ":" || t.text == "="
		case t.text == "." && (s.tokens[j-1].text == "no" || s.tokens[j-1].text == "nr" || s.tokens[j-1].text == "num"):
		case t.kind == word && strange < mostStrange && !units[t.text] && (!numberBefore[t.text] || pinNouns[s.tokens[i].text]) && !harmlessBefore[t.text] && k != Token:
			strange++ // "haslo serwisowe Zefir29"
		default:
			return
		}
	}
}

// mostStrange is how many words that are not known here may stand between a
// noun and its secret, which then has to look like one.
const mostStrange = 2

// plainValue returns end if tokens j to end look like a secret by themselves:
// four to six digits that are no year, or letters and digits run together.
func (s *scanner) plainValue(j, end int, k Kind) int {
	if k == Password {
		letters, digit := 0, false
		for i := j; i < end; i++ {
			if s.tokens[i].kind == word {
				letters += len(s.tokens[i].text)
			}
			digit = digit || s.tokens[i].kind == digits
		}
		if s.tokens[j].kind == word && letters >= 3 && digit {
			return end
		}
		return j
	}
	if s.plainCode(j) != j+1 || end != j+1 || len(s.tokens[j].text) > 6 || s.year(j) {
		return j
	}
	return end
}

// year tells whether the digits at i are a year by the word in front.
func (s *scanner) year(i int) bool {
	t := s.at(i).text
	return len(t) == 4 && (strings.HasPrefix(t, "19") || strings.HasPrefix(t, "20")) && dated[s.at(i-1).text]
}

// says are the verbs that give the secret out.
var says = set("is was are s lautet ist war jest brzmi to es era son est etait e era zijn")

func (s *scanner) nounKind(i int) (Kind, bool) {
	t := s.at(i)
	if t.kind != word {
		return "", false
	}
	switch before := s.at(i - 1).text; {
	case codeNouns[t.text] || pinNouns[t.text]:
		return Code, !s.harmless(i)
	case wordNouns[t.text]:
		return Password, true
	case compoundOf(t.text, "code", "codes", "pin", "kod"):
		return Code, !s.harmless(i)
	case compoundOf(t.text, "kennwort", "passwort", "wachtwoord"):
		return Password, true
	case t.text == "passe" && before == "de", t.text == "ordine" && s.at(i-2).text == "d", t.text == "word" && before == "pass":
		return Password, true
	case keyNouns[t.text], t.text == "key" && (before == "api" || before == "access" || before == "secret"):
		return Token, true
	}
	return "", false
}

// compoundOf tells whether a word is put together with one of these in German
// or Dutch (Kundencode, klantcode), and does not name another kind of code.
func compoundOf(w string, tails ...string) bool {
	for _, tail := range tails {
		head, found := strings.CutSuffix(w, tail)
		if head = strings.TrimSuffix(head, "s"); found && len(head) >= 4 {
			return !harmlessBefore[head] && !harmlessHeads[head]
		}
	}
	return false
}

// harmless tells whether the word before makes it another kind of code.
func (s *scanner) harmless(i int) bool {
	before := s.at(i - 1)
	if before.text == "-" {
		before = s.at(i - 2)
	}
	return before.kind == word && harmlessBefore[before.text]
}

// strong tells whether the noun at i can only mean a secret.
func (s *scanner) strong(i int) bool {
	if pinNouns[s.tokens[i].text] && s.tokens[i].text != "pin" && s.tokens[i].text != "pins" {
		return true
	}
	before := s.at(i - 1).text
	return strong[before] || strong[s.at(i+1).text]
}

var strong = set(`installer engineer user users master access alarm door default factory customer customers
	keypad unset disarm my his her their errichter benutzer zugangs
	instalatora uzytkownika instalador usuario installateur utilisateur installatore utente gebruiker`)

// valueAt returns the end of a secret of a kind that begins at token j and
// belongs to the noun at i, or j.
func (s *scanner) valueAt(i, j int, k Kind, asserted bool) int {
	switch k {
	case Code:
		return s.codeValue(i, j)
	case Password:
		return s.wordValue(j, asserted)
	}
	return s.keyValue(j)
}

func (s *scanner) codeValue(i, j int) int {
	if end := s.spelledValue(j); end > j {
		return end
	}
	start := j
	if t := s.tokens[j]; t.kind == word && len(t.text) <= 4 && s.glued(j+1) && s.at(j+1).kind == digits {
		start++ // A1234
	}
	if s.tokens[start].kind != digits {
		return j
	}
	end, n := s.groups(start)
	for s.glued(end) && (s.at(end).kind == word || s.at(end).kind == digits) && !s.measured(end) {
		if s.at(end).kind == digits {
			n += len(s.at(end).text)
		}
		end++
	}
	least := 4
	if s.strong(i) || s.tokens[i].text == "pin" && j-i > 1 {
		least = 3
	}
	if n < least || n > 12 || s.measured(end) || s.dateOrClock(start, end) || s.year(start) && end == start+1 {
		return j
	}
	return end
}

// groups returns the end of a row of digit groups that make one number, and
// how many digits there are.
func (s *scanner) groups(i int) (end, n int) {
	n = len(s.tokens[i].text)
	for end = i + 1; ; {
		next, joined := end, false
		if t := s.at(end); t.kind == mark && strings.Contains("-.*/", t.text) && s.at(end+1).kind == digits {
			next, joined = end+1, true
		}
		t := s.at(next)
		if t.kind != digits || t.line || n+len(t.text) > 12 {
			return end, n
		}
		if !joined && !s.continues(end-1, next) {
			return end, n
		}
		n += len(t.text)
		end = next + 1
	}
}

// continues tells whether the digits at next, behind a space, belong to the
// same secret as those at last.
func (s *scanner) continues(last, next int) bool {
	after := s.at(next + 1)
	decimal := after.kind == mark && strings.Contains(".,:%", after.text) && s.glued(next+1) && (after.text == "%" || s.at(next+2).kind == digits && s.glued(next+2))
	if decimal || s.measured(next+1) || s.glued(next+1) && after.kind == word {
		return false
	}
	a, b := len(s.tokens[last].text), len(s.tokens[next].text)
	return a <= 2 && b <= 2 || b >= 4
}

func (s *scanner) spelledValue(j int) int {
	end := j
	for end < len(s.tokens) && end-j < view && s.tokens[end].kind == word && spelled[s.tokens[end].text] {
		end++
	}
	if end-j >= 4 {
		return end
	}
	return j
}

// wordValue is a password: any run of characters without a space. A run of
// letters alone has to be given out as the password.
func (s *scanner) wordValue(j int, asserted bool) int {
	t := s.tokens[j]
	if t.kind == mark || t.kind == gone || t.kind == word && !s.glued(j+1) && between[t.text] {
		return j
	}
	end, digit := j, false
	for ; end < len(s.tokens) && (end == j || s.glued(end)) && s.tokens[end].kind != gone; end++ {
		digit = digit || s.tokens[end].kind == digits
	}
	for end > j+1 && s.tokens[end-1].kind == mark && strings.Contains(".,;:!?)\"'’]", s.tokens[end-1].text) {
		end--
	}
	length := s.tokens[end-1].end - t.start
	if digit && length >= 3 && !(end == j+1 && s.measured(end)) {
		return end
	}
	if asserted && length >= 3 && !noWord[t.text] && !between[t.text] {
		return end
	}
	return j
}

func (s *scanner) keyValue(j int) int {
	if s.tokens[j].kind == mark || s.tokens[j].kind == gone {
		return j
	}
	end, digit := s.keyRun(j)
	length := s.tokens[end-1].end - s.tokens[j].start
	if length >= 8 && digit || length >= 20 {
		return end
	}
	return j
}

// keyRun is the run of characters that tokens of machines are made of.
func (s *scanner) keyRun(j int) (end int, digit bool) {
	for end = j; end < len(s.tokens) && (end == j || s.glued(end)); end++ {
		t := s.tokens[end]
		if t.kind == gone || t.kind == mark && !strings.Contains("-_.~+/=", t.text) {
			break
		}
		digit = digit || t.kind == digits
	}
	for end > j+1 && s.tokens[end-1].text == "." {
		end--
	}
	return end, digit
}

// chained takes a further code of a row: code 1234 and 5678.
func (s *scanner) chained(i int) int {
	if s.chainEnd == 0 || i < s.chainEnd || i > s.chainEnd+3 || s.tokens[i].kind != digits {
		return i
	}
	for j := s.chainEnd; j < i; j++ {
		if t := s.tokens[j]; !(t.kind == word && joins[t.text]) && !(t.kind == mark && strings.Contains(",/->&", t.text)) {
			return i
		}
	}
	return s.plainCode(i)
}

// plainCode is a number of 4 to 8 digits that measures nothing.
func (s *scanner) plainCode(i int) int {
	n := len(s.tokens[i].text)
	after := s.at(i + 1)
	glued := s.glued(i+1) && (after.kind == word || after.kind == mark && strings.Contains(".,:%/-", after.text) && (after.text == "%" || s.at(i+2).kind == digits && s.glued(i+2)))
	before := s.glued(i) && !strings.Contains(",/->&(\"'=:#", s.at(i-1).text)
	if n < 4 || n > 8 || glued || before || s.measured(i+1) {
		return i
	}
	return i + 1
}

// codeBefore takes a code that its noun follows: 1234 is the code.
func (s *scanner) codeBefore(i int) int {
	if s.tokens[i].kind != digits || s.plainCode(i) == i {
		return i
	}
	if w := s.at(i - 1); w.kind == word && entered[w.text] && len(s.tokens[i].text) <= 6 {
		return i + 1
	}
	for j := i + 1; j <= i+5 && j < len(s.tokens); j++ {
		t := s.tokens[j]
		if k, ok := s.nounKind(j); ok && k != Token && (j > i+1 || k == Password) {
			return i + 1
		}
		first := j == i+1 && (says[t.text] || t.text == "=" || t.text == "as" || t.text == "als" || t.text == "for" || strong[t.text])
		if !first && !(j > i+1 && t.kind == word && between[t.text]) {
			break
		}
	}
	return i
}

var entered = set("enter entered entering keyed dialled unset disarm")

// measured tells whether a unit stands at token i.
func (s *scanner) measured(i int) bool {
	t := s.at(i)
	if t.line {
		return false
	}
	if t.kind == word && units[t.text] {
		// "code 1234 a ..." is no ampere: a letter alone must touch.
		return len(t.text) > 1 || s.glued(i) || strings.Contains("vkmh", t.text)
	}
	return t.text == "%" || t.text == "°" || t.text == "Ω" || t.text == "ω"
}

func (s *scanner) dateOrClock(start, end int) bool {
	lens := make([]int, 0, 4)
	for i := start; i < end; i++ {
		if s.tokens[i].kind == digits {
			lens = append(lens, len(s.tokens[i].text))
		}
	}
	if s.at(end).text == ":" && s.glued(end) && s.at(end+1).kind == digits && s.glued(end+1) {
		return true
	}
	return len(lens) == 3 && (lens[0] == 4 && lens[1] <= 2 && lens[2] <= 2 || lens[2] == 4 && lens[0] <= 2 && lens[1] <= 2)
}
