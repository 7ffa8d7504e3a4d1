// Package house keeps the rules of the whole repository, as tests. It is a
// leaf of cmd and holds no program code.
//
// Enters: the files of the repository, read in-process. A test that asked the
// go command for them would be answered from the test cache and would not see
// a new file.
// Leaves: one line for each breach, as file:line:col and what is wrong.
//
// Never: no rule passes because it found nothing to look at, and none is
// trusted that has not been seen to complain of a planted breach.
package house
