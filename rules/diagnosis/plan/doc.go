// Package plan chooses what to do next about one fault, so that the expected
// minutes until it is mended, or handed over, are as few as can be found.
//
// The model: exactly one of the causes is the fault. A repair takes its
// minutes and mends its own cause with a given chance; the complaint is tried
// again after it, so one sees at once whether it is gone. A test takes its
// minutes and shows one of a few outcomes, independent of each other given the
// cause. Handing over ends the case. Each repair and each test is done at most
// once. Walking to another place and set-ups (a lid to open, a system to put
// on test) are paid when an action first needs them. Where handing over is
// impossible the case also ends when nothing is left that could mend it.
//
// Without tests the best order is by probability over cost, where probability
// is that of the cause times the chance that the repair mends it (Kadane and
// Simon 1977; Heckerman, Breese and Rommelse, CACM 38(3), 1995). With tests
// there is no such rule and the tree of actions and outcomes is searched, best
// first, between two bounds: the minutes of a way that is known (the order by
// probability over cost, with the best point to hand over) and the minutes
// that would do if the cause were known, or all the tests that are left were
// done, for nothing. The search is bounded by
// positions looked at and not by time, so that the same problem always gets
// the same answer; what it has not closed by then is valued by the known way,
// so every figure given is that of a way that can be gone.
//
// A measurement has to be able to change what is done next. Where a test
// leads to one and the same repair whatever it shows, and the repair is as
// good before it, the repair comes first. Tests that follow one another
// whatever they show count as one measurement: two that tell something only
// together are proposed one after the other. Where the test stays first
// although the repair follows anyway, it saves a walk or a set-up. All this
// holds for the continuation that the plan itself has found (Plan.Then); a
// later plan, which sees further, may choose otherwise when neither is exact.
//
// Ties go to the repair with the lowest number, then to the test with the
// lowest number, then to handing over.
package plan
