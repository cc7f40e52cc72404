// Package intake turns a message as typed into symptoms, readings with units
// and subjects, and commands. The same message always gives the same result,
// and each value points at the words that it came from.
//
// The words for things (readings, answers, models, symptoms) come from the
// pack, so that the support lead can add one; the words of conversation (why,
// sorry, I think, at least) are in words.yaml, in the languages of the pack.
//
// A message goes through these stages, each linear in its length:
//
//	tokens     words, numbers and marks, folded so that case, accents and
//	           Unicode forms do not matter (token.go)
//	spelling   an unknown word next to just one word of the pack is read as
//	           that word (spelling.go)
//	matches    the longest phrases, in layers that may overlap: "signal low"
//	           is a symptom, and "signal" in it still names the reading (match.go)
//	clauses    what is hedged, asked, conditional or a correction (clause.go)
//	mentions   keypad 2, kp1, gen 1 hub, models (mention.go, model.go)
//	quantities numbers with units, ranges and bounds (quantity.go, unit.go)
//	values     quantities, versions, answers and members bound to readings
//	           (bind.go, version.go, answer.go, member.go)
//	the rest   commands, closing words, what is declined, what is left over
package intake
