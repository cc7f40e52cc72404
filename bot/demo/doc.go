// Package demo writes a year of an invented firm into an empty case book, so
// that everything can be tried on it: Lantern Yard Alarms in the town of
// Eastmere, with nine technicians, about 340 sites and 2,500 visits. All of it
// is invented, and the same seed gives the same year.
//
// The causes follow the shares of the pack, and what was observed follows its
// tables. On top of that these effects are planted, for reports to find:
//
//   - leaves: outdoor radio paths fail three times as often from June to
//     September;
//   - a batch of batteries wears out: six times as many from 2 November 2026 on;
//   - the old mobile network of the town is switched off on 1 September 2026:
//     communicators that need it are called in for, most in the first weeks;
//   - an update of panels goes out in the last week of October 2026: steps that
//     were missed keep technicians busy for the four weeks after;
//   - green springs and loose cores come back: every third such repair is
//     followed by a visit for the same fault within 30 days, against one in
//     fourteen of the others;
//   - one site (3-pinmaker-street) has trouble about every three weeks.
package demo
