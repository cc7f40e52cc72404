package intake

import (
	_ "embed"
	"fmt"
	"math/bits"
	"slices"
	"strings"
	"sync"

	"github.com/goccy/go-yaml"

	"ferrule/knowledge"
)

// role is what a word of conversation does in a sentence.
type role uint8

const (
	noRole role = iota
	filler
	negation
	but
	conditional
	hedge
	about
	aboutAfter
	past
	above
	atLeast
	below
	atMost
	present
	absent
	to
	from
	notNumber
	half
	only
	both
	neither
	correction
	scratch
	yes
	no
	stateOn
	stateOff
	numberSign
	ordinalTail
	versionWord
	neutral
	confirmMeasurement
	confirmSwapBack
	confirmSymptomGone
	confirmUnproven
	testConfirmed
	testUnmonitored
	until
	forTime
	reference
	onSite
	otherCause
	defeatVerb
	defeatPlain
	defeatObject
	othersParty
	askHow
	askFor
	codeNoun
	codeOwner
	codeHarmless
	liveAct
	livePart
	liveState
	goesTogether
	runsOn
	street
	timeBefore
	goesOn
	inPlace
	timeOfDay
	endOfRoles // stays last
)

// roles is a set of them.
type roles uint64

// A role that has no place in the set any more does not compile.
const _ roles = 1 << (endOfRoles - 1)

// rolesIn are the roles of a word by language: "no" denies in English, and
// agrees in Polish.
type rolesIn [8]roles

// in is what the word is in any of some languages.
func (r *rolesIn) in(set tongues) roles {
	var all roles
	for ; set != 0; set &= set - 1 {
		all |= r[bits.TrailingZeros8(uint8(set))]
	}
	return all
}

func (r roles) has(x role) bool { return r&(1<<x) != 0 }

var roleNames = map[string]role{
	"filler": filler, "negation": negation, "but": but, "if": conditional, "hedge": hedge, "about": about, "past": past, "about_after": aboutAfter,
	"above": above, "at_least": atLeast, "below": below, "at_most": atMost, "present": present, "absent": absent, "to": to, "from": from, "not_number": notNumber, "half": half, "only": only, "both": both,
	"neither": neither, "correction": correction, "scratch": scratch, "yes": yes, "no": no, "state_on": stateOn, "state_off": stateOff,
	"number_sign": numberSign, "ordinal_tail": ordinalTail, "version_word": versionWord, "neutral": neutral,
	"confirm_measurement": confirmMeasurement, "confirm_swap_back": confirmSwapBack, "confirm_symptom_gone": confirmSymptomGone,
	"confirm_unproven": confirmUnproven, "test_confirmed": testConfirmed, "test_unmonitored": testUnmonitored, "until": until,
	"for": forTime, "reference": reference, "on_site": onSite, "something_else": otherCause, "defeat_verb": defeatVerb,
	"defeat_plain": defeatPlain, "defeat_object": defeatObject, "others_party": othersParty, "ask_how": askHow, "ask_for": askFor,
	"code_noun": codeNoun, "code_owner": codeOwner, "code_harmless": codeHarmless, "live_act": liveAct, "live_part": livePart,
	"live_state": liveState, "goes_together": goesTogether, "runs_on": runsOn, "street": street, "time_before": timeBefore, "goes_on": goesOn, "in_a_place": inPlace, "time_of_day": timeOfDay,
}

var commandNames = map[string]Command{
	"why": Why, "more": More, "readings": Readings, "undo": Undo, "site": SiteHistory, "help": Help, "new": NewCase, "close": Close,
	"reopen": Reopen, "no_fault": NoFault, "on_test": OnTest, "off_test": OffTest, "done": Done, "failed": Failed, "cant": Cant,
	"dont_know": DontKnow, "safe": Safe, "greeting": Greeting, "thanks": Thanks,
}

//go:embed words.yaml
var wordsFile []byte

// conversation are the words of words.yaml, by what they do.
type conversation []struct {
	name  string
	words knowledge.Words
}

// conversationWords reads the embedded file once. It is part of the program,
// so that a fault in it is a fault of the program; a test holds it.
var conversationWords = sync.OnceValues(func() (conversation, error) {
	var items yaml.MapSlice
	if err := yaml.Unmarshal(wordsFile, &items); err != nil {
		return nil, fmt.Errorf("reading words.yaml: %w", err)
	}
	var out conversation
	for _, item := range items {
		words := knowledge.Words{}
		body, err := yaml.Marshal(item.Value)
		if err == nil {
			err = yaml.Unmarshal(body, (*map[string][]string)(&words))
		}
		if err != nil {
			return nil, fmt.Errorf("reading words.yaml: %v: %w", item.Key, err)
		}
		out = append(out, struct {
			name  string
			words knowledge.Words
		}{fmt.Sprint(item.Key), words})
	}
	return out, nil
})

// addConversation takes over the words of conversation. The small words come
// first, since phrases are added without them too.
func (l *lexicon) addConversation(c conversation) error {
	for _, group := range c {
		s := sense{layer: speech}
		command, isCommand := strings.CutPrefix(group.name, "command_")
		class, isClass := strings.CutPrefix(group.name, "class_")
		language, isLanguage := strings.CutPrefix(group.name, "speak_")
		switch {
		case isCommand && commandNames[command] != "":
			s.command = commandNames[command]
		case isClass && slices.Contains(knowledge.Classes, knowledge.Class(class)):
			s = sense{layer: equipment, class: knowledge.Class(class)}
		case group.name == "stop":
			l.concepts.addStops(group.words)
			l.learnTongues(group.words)
			continue
		case group.name == "negation_says_more":
			l.concepts.addMore(group.words)
			continue
		case group.name == "common":
			l.learnTongues(group.words)
			continue
		case isLanguage && slices.Contains(knowledge.Languages, language):
			s.command, s.choice = Speak, language
		case roleNames[group.name] != noRole:
			s.role = roleNames[group.name]
		default:
			return fmt.Errorf("reading words.yaml: %q is no group of words", group.name)
		}
		l.addWords("", group.words, s)
		if s.role != noRole {
			l.addRole(group.words, s.role)
		}
		switch s.role {
		case filler:
			l.concepts.addStops(group.words)
		case negation:
			l.concepts.addNegative(group.words)
		}
	}
	return nil
}

// addRole notes what single words are by themselves.
func (l *lexicon) addRole(w knowledge.Words, r role) {
	for n, language := range knowledge.Languages {
		for _, phrase := range w[language] {
			if tokens := tokenize(phrase); len(tokens) == 1 {
				l.roles[l.id(tokens[0].text)][n] |= 1 << r
			}
		}
	}
}
