package people

import "fmt"

// forOthers begins the uses that stand outside this package, so that none of them can be one of its own.
const forOthers = "pottrail 1: "

// DerivedKey gives a key for something kept elsewhere that shows a patient, such as labels that wait for a printer. Each
// use has its own, and none tells anything of the master key. [File.Forget] changes the master key, and with it every
// derived one: what was sealed before can then no longer be opened by anybody, which is the point.
func (f *File) DerivedKey(use string) ([]byte, error) {
	f.mu.RLock()
	defer f.mu.RUnlock()
	key, err := f.master.derive(forOthers + use)
	if err != nil {
		return nil, fmt.Errorf("derive a key for %s: %w", use, err)
	}
	return key, nil
}
