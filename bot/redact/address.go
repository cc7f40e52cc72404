package redact

import "strings"

// tokenSecret takes the token of a well-known service by its first letters.
func (s *scanner) tokenSecret(i int) int {
	t := s.tokens[i]
	if t.kind != word || s.glued(i) && s.tokens[i-1].kind != mark || s.glued(i) && s.tokens[i-1].text == "_" {
		return i
	}
	for _, p := range tokenPrefixes {
		if !strings.HasPrefix(s.text[t.start:], p.prefix) {
			continue
		}
		if end, _ := s.keyRun(i); s.tokens[end-1].end-t.start >= p.least {
			return end
		}
	}
	return i
}

// email takes an address that begins at token i. What was looked at once for
// an @ is not looked at again.
func (s *scanner) email(i int) int {
	if i < s.noEmail || !local(s.tokens[i]) || s.tokens[i].kind == mark {
		return i
	}
	at := i + 1
	for at < len(s.tokens) && s.glued(at) && local(s.tokens[at]) {
		at++
	}
	if s.at(at).text != "@" || !s.glued(at) {
		s.noEmail = at
		return i
	}
	end, dots := at+1, 0
	for end < len(s.tokens) && s.glued(end) && s.tokens[end].kind != gone && (s.tokens[end].kind != mark || s.tokens[end].text == "." || s.tokens[end].text == "-") {
		if s.tokens[end].text == "." {
			dots++
		}
		end++
	}
	for end > at+1 && s.tokens[end-1].kind != word {
		if s.tokens[end-1].text == "." {
			dots--
		}
		end--
	}
	if dots < 1 || end <= at+1 || len(s.tokens[end-1].text) < 2 {
		s.noEmail = at
		return i
	}
	return end
}

func local(t token) bool {
	return t.kind == word || t.kind == digits || t.kind == mark && strings.Contains("._%+-", t.text)
}

// phone takes a telephone number that begins at token i.
func (s *scanner) phone(i int) int {
	t := s.tokens[i]
	first := i
	plus := t.text == "+"
	if plus || t.text == "(" {
		first++
	}
	if s.at(first).kind != digits || first > i && (!s.glued(first) && plus) || s.glued(i) && s.at(i-1).kind != mark || i > 0 && s.glued(i) && strings.Contains("+-.,/:", s.at(i-1).text) {
		return i
	}
	if first == i && s.at(i-1).text == "+" && s.glued(i) {
		return i
	}
	g := s.phoneGroups(first)
	if g.dateLike() || g.n > 15 {
		return i
	}
	switch {
	case plus && g.n >= 8:
	case s.near(i, numberBefore):
		return i
	case s.near(i, phoneWords) && g.n >= 6 && (g.n >= 7 || len(g.lens) > 1):
	case strings.HasPrefix(s.at(first).text, "0") && g.trunk():
	case len(g.lens) == 3 && g.lens[0] == 3 && g.lens[1] == 3 && g.lens[2] == 4:
	default:
		return i
	}
	return g.end
}

// groups are the digit groups of what may be a telephone number.
type groups struct {
	end  int
	lens []int
	n    int
	dots int
	zero bool // 00...
}

// trunk tells whether digits that begin with 0 are parted as telephone
// numbers are, and not as a list of small numbers is.
func (g groups) trunk() bool {
	longest, pairs := 0, 0
	for _, l := range g.lens {
		longest = max(longest, l)
		if l == 2 {
			pairs++
		}
	}
	if len(g.lens) == 1 {
		return !g.zero && (g.n == 10 || g.n == 11) || g.zero && g.n >= 12
	}
	if g.dots > 0 {
		return len(g.lens) == 5 && pairs == 5
	}
	return len(g.lens) <= 6 && g.n >= 9 && longest >= 3 || len(g.lens) == 5 && pairs == 5
}

func (g groups) dateLike() bool {
	return len(g.lens) >= 3 && (g.lens[0] <= 2 && g.lens[1] <= 2 && g.lens[2] == 4 || g.lens[0] == 4 && g.lens[1] == 2 && g.lens[2] == 2)
}

func (s *scanner) phoneGroups(i int) groups {
	g := groups{zero: strings.HasPrefix(s.tokens[i].text, "00")}
	for j := i; j < len(s.tokens) && j < i+16; {
		t := s.tokens[j]
		after := s.at(j + 1)
		cut := s.glued(j+1) && (after.kind == word || after.text == "%" || strings.Contains(",:", after.text) && s.at(j+2).kind == digits && s.glued(j+2))
		if cut || s.measured(j+1) || t.line && j > i {
			break
		}
		g.lens = append(g.lens, len(t.text))
		g.n += len(t.text)
		g.end = j + 1
		next := j + 1
		for next < j+3 && s.at(next).kind == mark && strings.Contains("-/.()", s.at(next).text) {
			if s.at(next).text == "." {
				g.dots++
			}
			next++
		}
		if s.at(next).kind != digits {
			break
		}
		j = next
	}
	return g
}

// near tells whether one of the words stands up to four tokens before i, with
// nothing but small words and marks between.
func (s *scanner) near(i int, words map[string]bool) bool {
	for j := i - 1; j >= 0 && j >= i-4; j-- {
		t := s.tokens[j]
		switch {
		case t.kind == word && words[t.text]:
			return true
		case t.kind == word && (between[t.text] || t.text == "me" || t.text == "him" || t.text == "on" || numberWord[t.text]):
		case t.kind == mark && strings.Contains(":.#=(-/", t.text):
		default:
			return false
		}
	}
	return false
}

var numberWord = set("number nummer no nr numer numero numeris")
