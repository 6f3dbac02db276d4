package people

import "io/fs"

// OnStep has a function told of each step of a change of keys.
func (f *File) OnStep(told func(done string)) { f.step = told }

// CheckKeyFile is checkKeyFile.
func CheckKeyFile(mode fs.FileMode, owner, me int, given bool) error {
	return checkKeyFile("the.key", mode, owner, me, given)
}
