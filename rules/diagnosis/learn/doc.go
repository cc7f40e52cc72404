// Package learn turns the team's closed cases into numbers for diagnosis, and
// scores forecasts. It is pure: it knows packs, and no store.
//
// Every number of a pack that a case can speak to is the mean of a prior which
// counts as a stated number of cases, and the closed cases are added to it:
//
//   - the causes of a symptom, something else among them: Dirichlet;
//   - the same for one kind or model of equipment, shrunk towards what the
//     other cases of the symptom say: a model towards its kind, a kind towards
//     the symptom. A case counts once on its way down, so that where all cases
//     are of one model its numbers are those of the symptom;
//   - the rows of an evidence table: Dirichlet for each cause that the table
//     names, and one for its otherwise row, to which all other causes add;
//   - how often a repair mends the cause that it is for: Beta;
//   - how long a repair or a reading takes: log-normal minutes with unknown
//     mean and spread (normal-inverse-gamma), so that the interval is honest
//     with no case, one or two.
//
// A case counts by how its cause was confirmed. What was seen and not inferred,
// how long something took, counts in full.
//
// Limits. Cases never grow old: a team whose work has changed starts a new file.
// Something else teaches no row of a table: diagnosis gives it the mean row. The
// settings are common practice, no source. A prior that counts as P cases costs
// about N(K-1)/(2(P+N)²) nats a case where N cases of K causes merely agree with
// the pack, at most (K-1)/(8P), when N is P. So P belongs to the number of causes
// of a symptom: 20 is right for four or five, and for twenty 50 cost a third of it
// and gain as much from a team that differs.
//
// Sources of the formulas: Gelman and others, Bayesian Data Analysis (3rd ed.,
// 2013), 2.4 Beta, 3.3 normal with unknown mean and variance, 3.4 Dirichlet;
// from memory, and held against numeric integration in testdata/learn.
package learn
