// Package diagnosis turns what is known in a case into what is wrong: certain
// findings first, then the probabilities of the causes, and the next step.
//
// One fault is looked for at a time, with an explicit "something else".
// Blockers are certain and stand outside the probabilities: while its rule is
// unknown a blocker's cause keeps its prior, when the rule is true it is a
// finding, and when it is false the cause is ruled out. The rest follows from
// priors by symptom and from the evidence tables, each of which counts once.
package diagnosis
