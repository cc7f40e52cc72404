// Package rules compiles a pack's expressions and evaluates them over what is
// known in a case.
//
// A reading that nobody has given is unknown, not zero: conditions are
// three-valued after Kleene, and a rule that is unknown names the readings
// that would decide it.
//
// # From text to verdict
//
// Compile parses each expression with the parser of expr-lang/expr and types
// the tree itself, node by node, so that every fault is reported where it
// stands: its own checker takes misspelt choices, unlike units and now().
// Negations are pushed into the conditions, and equal conditions are one node
// (3 < a is a > 3, not (a < b) is a >= b).
//
// Program.Bind lays out the readings of the subjects in focus. A value that
// was given goes before what the model of the equipment says, that before a
// derivation, that before the default. Numbers are closed intervals, and an
// unknown number is the whole line; choices and yes/no are numbers too;
// versions are keys under the scheme of their model; a set has one bit for
// "in" and one for "not in" of each member.
//
// Program.Evaluate writes one byte for each condition: what is possible in the
// low bit, what is certain above it, so that and is &, or is |. It then joins
// bytes in rows of up to four, and lists what fired and what is unknown. No
// step depends on the outcome of another by a branch, and none allocates.
//
// Native are comparisons of numbers (with + - * / min max abs round), choices,
// yes/no and versions, and the set functions. Texts and the functions **,
// floor, ceil and len run as an expr program, which allocates, and which runs
// only when all its readings are known exactly.
//
// # Reasons
//
// Needs says which readings would decide a rule, Because which ones did, Says
// what it has to say, ValueOf where a value came from. The strong Kleene logic
// takes each condition by itself: "a < 5 or a >= 5" stays unknown while a is.
package rules
