// Package loop answers what the resistance of an intruder alarm zone means: it
// reads the codes on resistors, knows the preferred values, works out what a
// loop measures in each state of its contacts, puts a reading into a state, and
// lists what could explain a reading that fits none.
//
// # The model of a loop
//
// One detector, as a network of resistors seen from the panel's terminals:
//
//	terminals - cable - tamper contact - [in the loop ... - [end, across the end]]
//	                                   \- [across the detector] -/
//
// The end-of-line resistor lies at the end. The alarm contact and the fault
// (masking) contact are branches, each with its own resistor and at one of
// three places:
//
//	InLoop          in series with the end; the resistor lies over the contact
//	AcrossEnd       over the end-of-line resistor; the resistor is in series
//	                with the contact
//	AcrossDetector  over all of the detector; the resistor is in series with
//	                the contact
//
// Each contact is normally closed or normally open. [Single], [Double] and
// [Triple] describe the common wiring. Which of the wirings a panel expects is
// a matter of its maker: common practice, no source.
//
// # Limits
//
// Intervals are exact worst cases, not statistics: a network of resistors
// rises with each of them, so that the ends are reached with all components at
// their lowest and all at their highest. A closed contact has 0 ohm nominally
// and anything up to the given limit; the cable is a plain value, both ways,
// at the temperature for which it was worked out (package cable). A short may
// lie anywhere on the cable and has no resistance itself; an open contact has
// no leakage. Nothing here knows currents or voltages, nor a loop with
// semiconductors. Resistances are in ohm, tolerances in % of the value, plus
// and minus.
package loop
