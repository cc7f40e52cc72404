// Package cable answers what a cable does to the supply of a bus: how many volts
// reach each device, which device is the first to fall below its working
// voltage, and what is the smallest change that mends it. It also holds the
// rules of an RS-485 pair, for a bus that is one.
//
// # Models and their limits
//
// A conductor has a direct-current resistance per metre: from its copper
// section by the International Annealed Copper Standard (nominal; no allowance
// for lay-up or tinning), and, where a standard sets one, the greatest that it
// allows. The two differ by 22 % for 7/0.2, so both are offered
// ([Conductor.Greatest]). Resistance rises in a straight line with temperature.
//
// A bus is a tree of two-wire segments ([Tree]) on one source, an ideal voltage
// behind a resistance. A load draws a constant current or a constant power or
// both. Constant currents alone are solved exactly. Constant power has up to two
// solutions; the one that real equipment settles at is the larger, and [Solver]
// finds it or proves that there is none ([Collapse]).
//
// Not modelled: inrush and other transients, joints and terminals beyond their
// resistance, devices that switch off when their voltage is low (the answer for
// a bus that collapses is that it can't work, not what it does then), loops in
// the wiring (rings), and the signal on the data cores.
//
// # Units
//
// Lengths are in metres, resistances in ohms, conductor sections in mm2, strand
// diameters in mm, temperatures in °C. A quantity for which there is no answer
// gives a *units.OutOfRange; the bounds of lengths, currents and the like lie far
// outside the trade and only keep the arithmetic from overflowing.
package cable
