// Package radio answers, for a short link of an intruder alarm system, what level
// should arrive, how surprising a measured one is, and what a change would bring.
//
// The models, from the simplest on:
//
//   - FreeSpace: nothing between the aerials (ITU-R P.525). A lower limit indoors.
//   - TwoRay, PlaneEarth, OpenArea: level ground between them, outdoors.
//   - FirstZone: whether a ridge, a wall or a vehicle reaches into the first
//     Fresnel zone.
//   - Indoor: a whole building by one coefficient (ITU-R P.1238, the older form,
//     whose tables have empty cells: there is no residential value at 900 MHz).
//   - MultiWall: each wall and floor on the way (COST 231). Fitted at 1800 MHz, so
//     at 868 MHz it says too much loss.
//   - Slab and Stack: one wall from its material (ITU-R P.2040, by revision) or from
//     its layers, so that a wet, foil-backed or reinforced wall can be told apart.
//     868 MHz lies below the stated range of most materials: Material.Extrapolated.
//   - Expect: the answer for a path, with its interval, out of free space or open
//     area, obstacles and floors.
//
// No model knows the furniture, the reflections or the second way round a wall:
// indoors a level within 10 dB of what Expect says is no surprise, and that is what
// its default spread means. An aerial nearer than a sixth of a wavelength to the
// other is refused, for no far field exists there.
//
// Lengths are metres, frequencies hertz, powers watts or dBm, shares 0 to 1. A
// quantity outside its range gives a *units.OutOfRange; no function returns a value
// that is not finite. Nothing here changes after it is made: all of it may be used
// from any number of goroutines.
package radio
