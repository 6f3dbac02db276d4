// Package outside lets a test ask for a program that does not come with Go, such as a bar code reader.
//
// A test against something outside is worth having only if it is known to run, so the rule is in one place: without
// the program the test is skipped and says which Debian package has it; with POTTRAIL_NOTHING_SKIPS=1, as .ci/run
// sets it, the test fails instead.
//
// [Need] asks for programs, [Node] for packages that node runs.
//
// It is for tests alone and is never part of a binary. It installs nothing and runs nothing itself.
package outside
