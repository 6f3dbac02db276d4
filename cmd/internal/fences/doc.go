// Package fences holds the house to its plan: which folder may import which, that the core stays pure, that exported
// names are explained, that files stay small, that tests neither sleep nor skip by themselves, that nothing of a
// machine or a person slips into the tree, and that README.md, DEVELOPERS.md and .ci/run tell what is there.
//
// Each fence is a function from parsed sources to complaints. One test runs it over the whole tree, another over small
// bad sources, to show that it can fail. A complaint says where, what, and why it matters.
//
// The fences read files and nothing else: they start no program and need no network. They see what is written, not what
// it does: an alias to a package variable, or a function value that reads the clock, passes them by.
package fences
