// Package reference writes the page that tells every conversion this program
// knows: units, forms of elements, atomic weights, liming materials, kinds of
// step, equations between methods, scales of index, and the bibliography.
//
// Enters: the tables themselves, nothing else. Leaves: one page as Markdown
// or HTML, with the source of each row in full, what it rests on, whether it
// is used, why not if it isn't, and the outside checks that hold it.
// Never: it says of a table what the table does not; a figure is not typed
// here, so the page can't differ from what is in force.
package reference
