// Package power answers what a technician asks about the supply of an alarm
// system: how long the battery must last, how large it must be, how long this
// one will last, how it charges, what its voltage says, whether it is worn out,
// and how long the cell of a wireless device lives.
//
// # Models and their limits
//
//   - Requirements are data with their edition and with how sure they are.
//     Editions differ, and the paid text was not seen: lists are handed to the
//     functions, so that they can be edited.
//   - Capacity and autonomy count ampere-hours at a constant current. The rating
//     holds at its own rate (mostly 20 h); for a larger current use what
//     [PeukertCapacity] gives.
//   - Peukert's law fits constant currents at a constant temperature, near and
//     above the rated current. Below it the law promises more than the label;
//     [Discharge.Curve] then keeps to the label.
//   - Open-circuit voltages follow no standard table. They hold for a rested
//     battery at room temperature and are read linearly between points, so a
//     discharge curve here has no knee at its end.
//   - Recharging is taken at constant current; the slow last part of a charge
//     (above some 80 %) is not in it.
//   - What has no source says 'common practice, no source' or 'from memory'.
//
// Currents are in amperes, charges in ampere-hours, times in hours where the
// name says so, shares from 0 to 1, temperatures in degrees Celsius. Refused
// quantities are *units.OutOfRange; a charger that can't keep up with its load
// is a *[NeverCharges]. Results too large to be numbers are refused as well.
//
// Lead-acid batteries give off gas and enormous currents; whoever words a step
// from these figures puts the caution before it.
package power
