package plan

// Budget is the number of positions that Plan is meant to be given. It serves
// problems of all sizes: 6 causes and 5 tests are solved exactly with it,
// a complaint of the starter pack takes some 30 ms, and of 12
// causes and 8 tests the way found takes well under 1 % more minutes than the
// least possible (the trial in rules/diagnosis).
const Budget = 20_000
