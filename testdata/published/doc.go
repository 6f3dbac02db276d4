// Package published gives tests the tables of published figures that lie beside it, so that what the program reckons is held
// against what others printed.
//
// A table is a file of lines with tabs between the cells: "#" begins a comment that names the source, the next line names the
// columns. Most rows have an entry, F2 or T5, which sources.tsv looks up: what it says in short, where it was published, and
// whether the publication was seen or is from memory. The entries are those of the project's reference on practice; P and N
// are the program's own choices and common practice without a source.
//
// It is for tests alone and is never part of a binary.
package published
