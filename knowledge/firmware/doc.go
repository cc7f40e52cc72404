// Package firmware reads, orders and finds the version numbers of equipment.
//
// Versions in this trade follow no common rule. A general version library
// holds 3.05 and 3.5 to be equal; one product line means 3.05 by "3.5", the
// next 3.50. So every model names a [Scheme], and only versions of one scheme
// can be compared. Where the scheme can't tell what a technician meant, Parse
// returns an [AmbiguousError] with the candidates, so that the bot asks
// instead of guessing.
//
// # Schemes
//
//	dotted       numbers compared one by one: 3.05 = 3.5 < 3.10 < 3.50
//	two-digit    the minor has two digits: 3.05 < 3.50; 3.5 is ambiguous
//	decimal      the minor is a decimal fraction: 3.05 < 3.125 < 3.5 = 3.50
//	short-minor  a single digit stands for 0 and the digit: 3.5 = 3.05 < 3.50
//	four-part    up to four numbers, no letter: 1.2 = 1.2.0.0 < 1.2.3.4
//	semver       Semantic Versioning 2.0.0, strict; build metadata is dropped
//
// In all of them but semver, missing parts are 0 (1.06 = 1.06.0), parts after
// the minor are whole numbers (1.06.2 < 1.06.12), and at most six parts are
// read. In dotted, two-digit, decimal and short-minor one letter may follow:
// 2.04 < 2.04a < 2.04b < 2.04.1 < 2.05; 2.04B is 2.04b.
//
// A leading v, ver, version, fw or firmware, and space around the parts, mean
// nothing. Case means nothing either, except in a semver prerelease, where the
// specification says that it does.
//
// # Build dates
//
// A build date may follow (2.04 20260311, 2.04-2026-03-11, 2.04 (11.03.2026)),
// except in semver. It counts last. An undated version comes before every
// dated build of itself: 2.04 < 2.04 2025-12-01 < 2.04 2026-03-11 < 2.04a. To
// leave the date out whenever one side has none would not be an order at all
// (two builds would each equal the undated version, but not each other); the
// order taken is the one of Debian, where no revision comes before any.
//
// What people mean by a limit is another matter, and [Constraint] follows it:
// a bound without a date speaks of every build ("<= 2.04" allows 2.04 of any
// date), and a bound with a date can't judge the same version without one: it
// answers with an [UndatedError], so that the date is asked for.
//
// In a date written with points the day comes first. With slashes or hyphens
// and the year last, both orders are in use: 11/03/2026 is ambiguous, while
// 13/03/2026 and 03/03/2026 are not.
package firmware
