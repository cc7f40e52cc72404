// Package rules compiles a pack's expressions and evaluates them over what is
// known in a case.
//
// A reading that nobody has given is unknown, not zero: conditions are
// three-valued after Kleene, and a rule that is unknown names the readings
// that would decide it.
package rules
