package intake

import (
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"

	"ferrule/knowledge"
)

// commands are looked for in this order in the words of the whole message.
var commands = []struct {
	command Command
	words   *regexp.Regexp
}{
	{Help, regexp.MustCompile(`^(?:help|hilfe|\?|what can you do|how does this work)(?: \?)?$`)},
	{Why, regexp.MustCompile(`^(?:but |and )?(?:why|how come|warum|dlaczego|por qué|pourquoi|perché|waarom)(?: (?:this|that|is that|so|this step|do you think so))?(?: \?)*$`)},
	{More, regexp.MustCompile(`^(?:more|what else|mehr|więcej|más|plus|di più|meer)(?: \?)*$`)},
	{Readings, regexp.MustCompile(`^(?:readings|what have you noted|what do you have|messwerte|list)(?: \?)*$`)},
	{Undo, regexp.MustCompile(`^(?:undo|take (?:that|it) back|scratch that|forget that|zurück)(?: .)*$`)},
	{SiteHistory, regexp.MustCompile(`^(?:site|history|site history|what did this site have before)(?: \?)*$`)},
	{NewCase, regexp.MustCompile(`^(?:new|new case|another case|next job|neuer fall)\b`)},
	{NoFault, regexp.MustCompile(`^(?:close )?(?:, )?(?:no fault found|no fault|nothing wrong|kein fehler)\b`)},
	{Close, regexp.MustCompile(`^(?:close|closing|close the case|close it|close case|case closed|abschließen)\b`)},
	{OffTest, regexp.MustCompile(`\boff test\b|\btaken off test\b`)},
	{OnTest, regexp.MustCompile(`\bon test\b`)},
	{Failed, regexp.MustCompile(`\b(?:still the same|no change at all|didnt help|did not help|still not|doesnt help|same as before|no difference|no joy|no luck|hilft nicht|nic nie dało)\b`)},
	{Done, regexp.MustCompile(`^(?:done|fixed|mended|finished|did it|that did it|that fixed it|works now|it works|it works now|working now|all good|sorted|solved|that explains it|erledigt|gotowe|hecho|fait|fatto|klaar)\b`)},
	{DontKnow, regexp.MustCompile(`^(?:i )?(?:dont know|do not know|no idea|dunno|not sure|cant say|cant tell|unknown|keine ahnung|weiß nicht|nie wiem|no sé|je ne sais pas|non so|weet ik niet)(?: .*)?$`)},
	{Cant, regexp.MustCompile(`\b(?:cant (?:do|measure|check|read|reach|get|see) (?:that|it|there)|cannot (?:do|measure|check|read) (?:that|it)|not possible here|no ladder|no meter|impossible here|geht hier nicht)\b`)},
	{Greeting, regexp.MustCompile(`^(?:hi|hello|hey|morning|good (?:morning|afternoon|evening)|hallo|moin|cześć|hola|bonjour|ciao)(?: (?:there|ferrule|all|bot))?(?: [!.])*$`)},
	{Thanks, regexp.MustCompile(`^(?:thanks|thank you|thx|cheers|ta|danke|dzięki|gracias|merci|grazie|bedankt)\b`)},
	{Yes, regexp.MustCompile(`^(?:yes|yep|yeah|y|ok yes|correct|right|ja|tak|sí|si|oui|sì)(?: [,.;!].*)?$`)},
	{No, regexp.MustCompile(`^(?:no|nope|n|nein|nie|non|nee)(?: [,.;!].*| still .*)?$`)},
}

func commandOf(words string) Command {
	for _, c := range commands {
		if c.words.MatchString(words) {
			return c.command
		}
	}
	return NoCommand
}

var declinations = []struct {
	reason string
	words  *regexp.Regexp
}{
	{"defeat_alarm", regexp.MustCompile(`(?:bypass|defeat|silence|disable|jam|block|knock out|get (?:around|past|round)|trick|fool|turn off|cut|kill|stop).{0,60}(?:neighbou?r|without (?:the |a )?(?:code|permission|them|anyone|anybody|tripping|setting)|not my|so (?:it|that it) doesnt go off|somebody elses|someone elses|ex |burglar|break in)|(?:neighbou?rs?|someone elses|somebody elses) .{0,30}(?:alarm|siren).{0,60}(?:off|silence|stop|disable|quiet)|(?:jam|defeat) .{0,30}(?:alarm|sensor|detector|hub|signal)|(?:how (?:do i|to|can i)|help me) .{0,20}(?:jam|defeat|bypass) `)},
	{"code_request", regexp.MustCompile(`(?:what is|whats|what was|give me|tell me|send me|need|know|find out|get|guess|crack|recover|reset|default|factory).{0,30}\b(?:installer|engineer|user|master|default|factory|customers|door|access|his|her|their|the)\b.{0,15}\b(?:code|pin|password|codes|pins)\b(?: \?| please| for|$| of| so| again| to)`)},
	{"live_work", regexp.MustCompile(`(?:work|replace|swap|change|fit|open|measure|disconnect|connect|take|pull|do|can i).{0,40}(?:mains|230|transformer|fuse|spur).{0,40}(?:live|without (?:isolating|switching|turning)|powered|energi[sz]ed|still on|hot)|(?:live|hot|energi[sz]ed) (?:mains|230|spur)`)},
}

func declinedFor(words string) string {
	for _, d := range declinations {
		if d.words.MatchString(words) {
			return d.reason
		}
	}
	return ""
}

var (
	untilClock = regexp.MustCompile(`(?i)\b(?:until|till|til|to|bis|do)\s+(\d{1,2})(?:[:.](\d{2}))?\s*(am|pm|h|uhr)?\b`)
	forHours   = regexp.MustCompile(`(?i)\bfor\s+(\d+(?:[.,]\d+)?|an|one|two|half an)\s*(h|hr|hrs|hours?|min|mins|minutes?)\b`)
	reference  = regexp.MustCompile(`(?i)\b(?:ref|reference|referenz)\.?\s*(?:is|no\.?|number|:|#)?\s*([A-Z0-9][A-Z0-9/-]{1,19})\b`)
	minutes    = regexp.MustCompile(`(?i)\b(\d+(?:[.,]\d+)?)\s*(h|hr|hrs|hours?|min|mins|minutes?)\b`)
	siteName   = regexp.MustCompile(`(?i)(?:^|[,;.\s])(?:at |for |the )?site(?: ref(?:erence)?)?(?:\s+is)?\s*[:#]?\s+((?:[\p{L}\p{N}][\p{L}\p{N}_-]*)(?: [\p{L}\p{N}_-]+){0,2})`)
	siteWords  = regexp.MustCompile(`(?i)^(?:had|has|have|visit|history|is|was|before|survey|and|with|the|i|a|of|at|in|on|today)\b`)
)

var confirmations = []struct {
	how   string
	words *regexp.Regexp
}{
	{"swap_back", regexp.MustCompile(`\bswap(?:ped|ping)?[ -]*back\b`)},
	{"unproven", regexp.MustCompile(`\b(?:unproven|not proven|not confirmed|not sure it)\b`)},
	{"measurement", regexp.MustCompile(`\b(?:measured|measurement|by meter|gemessen|reading(?:s)? (?:is|are) (?:good|fine|ok))\b`)},
	{"symptom_gone", regexp.MustCompile(`\b(?:gone|works|working|complaint gone|fixed it|all good|symptom gone)\b`)},
}

// visitWords reads times, references, minutes, the site and how something was
// confirmed.
func (s *scan) visitWords() {
	words := s.words()
	if m := siteName.FindStringSubmatch(s.text); m != nil && !siteWords.MatchString(m[1]) && s.out.Command != SiteHistory {
		s.out.Site = strings.ReplaceAll(strings.ToLower(m[1]), " ", "-")
	}
	switch s.out.Command {
	case OnTest:
		s.testTimes()
	case OffTest:
		switch {
		case strings.Contains(words, "unmonitored") || strings.Contains(words, "not monitored"):
			s.out.Confirmed = "unmonitored"
		case strings.Contains(words, "confirm") || strings.Contains(words, "read back") || strings.Contains(words, "signal"):
			s.out.Confirmed = "signal read back by the centre"
		}
		return
	}
	if m := minutes.FindStringSubmatch(s.text); m != nil {
		s.out.Minutes, _ = parseNumber(m[1])
		if strings.HasPrefix(strings.ToLower(m[2]), "h") {
			s.out.Minutes *= 60
		}
	}
	for _, c := range confirmations {
		if c.words.MatchString(words) {
			s.out.Confirmed = c.how
			break
		}
	}
}

func (s *scan) testTimes() {
	if m := untilClock.FindStringSubmatch(s.text); m != nil {
		h, _ := parseNumber(m[1])
		mins, _ := parseNumber("0" + m[2])
		if strings.EqualFold(m[3], "pm") && h < 12 {
			h += 12
		}
		if h < 24 && mins < 60 {
			s.out.Until, s.out.UntilSet = time.Duration(h)*time.Hour+time.Duration(mins)*time.Minute, true
		}
	}
	if m := forHours.FindStringSubmatch(s.text); m != nil {
		n, ok := parseNumber(m[1])
		if !ok {
			n = map[string]float64{"an": 1, "one": 1, "two": 2, "half an": 0.5}[strings.ToLower(m[1])]
		}
		unit := time.Minute
		if strings.HasPrefix(strings.ToLower(m[2]), "h") {
			unit = time.Hour
		}
		s.out.For = time.Duration(n * float64(unit))
	}
	if m := reference.FindStringSubmatch(s.text); m != nil {
		s.out.Reference = m[1]
	}
}

// causeWords are the telling words of a cause's title and name.
type causeWords struct {
	name  string
	title string
	words []string
}

func newCauseWords(p *knowledge.Pack) []causeWords {
	var out []causeWords
	for i := range p.Causes {
		c := &p.Causes[i]
		out = append(out, causeWords{c.Name.S, join(tokenize(c.Title)), telling(c.Title + " " + strings.ReplaceAll(c.Name.S, "_", " "))})
	}
	return out
}

func telling(text string) []string {
	var out []string
	for _, w := range strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
		if len(w) > 2 && !slices.Contains(plain, w) && !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}

var plain = []string{"the", "and", "was", "too", "that", "this", "with", "not", "for", "its", "close", "case", "min", "minutes", "measured", "gone", "complaint", "back", "swapped", "works", "now"}

// likelier is how much more the cause that the conversation is about counts.
const likelier = 8

// causeNamed finds the cause that a closing message names: its title or name
// as a whole, else the one that shares most telling words with it.
func (s *scan) causeNamed(words string) string {
	if strings.Contains(words, "something else") {
		return "something_else"
	}
	said := telling(s.text)
	best, score := "", 0.0
	for _, c := range s.causes {
		if strings.Contains(words, c.title) || strings.Contains(s.text, c.name) {
			return c.name
		}
		shared := 0.0
		for _, w := range said {
			if slices.Contains(c.words, w) {
				shared++
			}
		}
		share, least := shared*shared/float64(len(c.words)+2), 2.0
		if c.name == s.ctx.Likely {
			share, least = share*likelier, 1
		}
		if shared >= least && share > score {
			best, score = c.name, share
		}
	}
	return best
}
