package intake

import (
	"cmp"
	"encoding/binary"
	"math"
	"math/bits"
	"slices"

	"ferrule/knowledge"
)

// loosePhrase is a phrase by what its words mean, in any order and with other
// words between: "no reaction on any key" is found in "keys dont react at all".
type loosePhrase struct {
	sense   sense
	needs   []int32
	negates bool
	weight  float64 // how much its words tell: the sum of their rarity
	shared  bool    // another sense has the same words
	spoken  tongues // the languages that have it
	times   float64 // how many phrases of the pack come down to it
}

// words is what tells one phrase from another.
func (p *loosePhrase) words() string {
	key := []byte{byte(p.sense.layer), 0}
	if p.negates {
		key[1] = 1
	}
	for _, id := range slices.Sorted(slices.Values(p.needs)) {
		key = binary.LittleEndian.AppendUint32(key, uint32(id))
	}
	return string(key)
}

// senseKey is what tells one sense from another.
func (x *sense) senseKey() string {
	if x.layer == complaint {
		return x.symptom
	}
	if x.no {
		return x.reading.Name.S + "=no"
	}
	return x.reading.Name.S + "=" + x.choice
}

// merge drops phrases that say the same twice, and marks those whose words
// have another sense as well.
func (x *looseIndex) merge() {
	first := map[string]int{}
	twice := map[string]int{}
	var kept []loosePhrase
	for _, p := range x.phrases {
		words := p.words()
		same := words + p.sense.senseKey()
		if n, ok := twice[same]; ok {
			kept[n].times++
			kept[n].spoken |= p.spoken
			continue
		}
		twice[same] = len(kept)
		p.times = 1
		if n, ok := first[words]; ok {
			kept[n].shared, p.shared = true, true
		} else {
			first[words] = len(kept)
		}
		kept = append(kept, p)
	}
	x.phrases = kept
}

// looseIndex finds loose phrases by their rarest word.
type looseIndex struct {
	phrases []loosePhrase
	by      [][]entry // by each of its two rarest words
	rarity  map[int32]float64
	least   float64 // the least weight of a phrase that is looked for

	short     []loosePhrase                         // of one word: only for what was asked
	byReading map[*knowledge.Reading][]loosePhrase  // everything that answers a question
	context   map[*knowledge.Reading]map[int32]bool // what the question says itself
}

// entry is a phrase in the index, with what is needed to pass it over.
type entry struct {
	words   wordSet
	phrase  int32
	mayLack int
}

// The reach of loose phrases, in words that carry meaning: how many others may
// stand among those of a phrase of two words, and of more.
const (
	slackOfTwo  = 2
	slackOfMore = 4
	mostNeeds   = 7
	// mayMiss is from how many words on one of them may be missing, if what is
	// there tells enough by itself.
	mayMiss     = 3
	missedCosts = 1.6
	moreMissed  = 1.2
	mostMissed  = 0.35
	// leastTelling is how much the words of a phrase have to tell together, as
	// a share of what a word tells that no other phrase has: common words are
	// found everywhere.
	leastTelling = 1.1
	// agreement is how much more a phrase tells that was written several times,
	// in other words or languages.
	agreement = 1.0
	// A phrase weighs more the more its words mean one thing only.
	purityBase   = 0.5
	purityCounts = 0.5
	// negationReach is how many such words a negation may stand in front.
	negationReach = 2
)

// addLoose takes over a phrase. One word alone is no loose phrase: it is
// found as it stands, or not at all.
func (l *lexicon) addLoose(phrase string, language int, s sense) {
	if s.layer != complaint && s.layer != answer {
		return
	}
	needs, telling, negates := l.concepts.needs(phrase, language)
	if telling == 0 || len(needs) > mostNeeds {
		return
	}
	if telling < 2 {
		if s.layer == answer {
			l.loose.short = append(l.loose.short, loosePhrase{sense: s, needs: needs, negates: negates})
		}
		return
	}
	l.loose.phrases = append(l.loose.phrases, loosePhrase{sense: s, needs: needs, negates: negates, spoken: 1 << language})
}

// weigh works out how much each word tells, and files every phrase under its
// rarest one. It is called once, when all phrases are there.
func (x *looseIndex) weigh(last int32) {
	x.merge()
	count := map[int32]float64{}
	for i := range x.phrases {
		for _, id := range x.phrases[i].needs {
			count[id]++
		}
	}
	n := float64(len(x.phrases) + 1)
	x.least = leastTelling * math.Log(n)
	x.rarity = map[int32]float64{}
	for id, c := range count {
		x.rarity[id] = math.Log(n / (c + 1))
	}
	x.by = make([][]entry, last+1)
	holding := make([][]int32, last+1)
	sets := make([]wordSet, len(x.phrases))
	for i := range x.phrases {
		for _, id := range x.phrases[i].needs {
			holding[id] = append(holding[id], int32(i))
			sets[i].add(id)
		}
	}
	x.byReading = map[*knowledge.Reading][]loosePhrase{}
	for _, p := range x.short {
		x.byReading[p.sense.reading] = append(x.byReading[p.sense.reading], p)
	}
	for i := range x.phrases {
		p := &x.phrases[i]
		byRarity := slices.SortedFunc(slices.Values(p.needs), func(a, b int32) int { return cmp.Compare(x.rarity[b], x.rarity[a]) })
		for _, id := range p.needs {
			p.weight += x.rarity[id]
		}
		if p.negates {
			p.weight++
		}
		p.weight += agreement * math.Log(p.times)
		p.weight *= purityBase + purityCounts*x.purity(i, holding[byRarity[0]], sets)
		if p.sense.layer == answer {
			x.byReading[p.sense.reading] = append(x.byReading[p.sense.reading], *p)
		}
		e := entry{words: sets[i], phrase: int32(i)}
		if len(p.needs) >= mayMiss {
			e.mayLack = 1
		}
		x.by[byRarity[0]] = append(x.by[byRarity[0]], e)
		if len(p.needs) >= mayMiss {
			x.by[byRarity[1]] = append(x.by[byRarity[1]], e)
		}
	}
}

// purity is the share of the phrases that hold all words of a phrase, its own
// kind among them, that speak of the same reading or complaint: "fuse blown"
// is said of one thing, "panel off" of many. They are looked for among those
// that hold one of its words, best the rarest.
func (x *looseIndex) purity(i int, among []int32, sets []wordSet) float64 {
	p := &x.phrases[i]
	same, all := 0.0, 0.0
	for _, n := range among {
		o := &x.phrases[n]
		if o.sense.layer != p.sense.layer || o.negates != p.negates || sets[i].lacks(&sets[n]) > 0 || !holds(o.needs, p.needs) {
			continue
		}
		all += o.times
		if o.sense.symptom == p.sense.symptom && o.sense.reading == p.sense.reading {
			same += o.times
		}
	}
	return same / max(1, all)
}

func holds(ids, all []int32) bool {
	for _, id := range all {
		if !slices.Contains(ids, id) {
			return false
		}
	}
	return true
}

// wordSet is a small set of meanings, in which two may fall together.
type wordSet [4]uint64

func (w *wordSet) add(id int32) {
	h := uint32(id) * 2654435761
	w[h>>30] |= 1 << (h >> 24 & 63)
}

// lacks counts the members that are certainly not in another set.
func (w *wordSet) lacks(in *wordSet) int {
	n := 0
	for i := range w {
		n += bits.OnesCount64(w[i] &^ in[i])
	}
	return n
}

// titleLanguage is the language of the pack's titles and names.
const titleLanguage = 0

func (l *lexicon) addConcepts(p *knowledge.Pack) {
	for i := range p.Concepts {
		l.concepts.add(p.Concepts[i], func(phrase string, language int, id int32) {
			l.add(phrase, language, sense{layer: concept, concept: id})
		})
	}
}
