package people

import "fmt"

// forOthers begins the uses that stand outside this package, so that none of them can be one of its own.
const forOthers = "pottrail 1: "

// DerivedKey gives a key for something kept elsewhere that shows a patient, such as labels that wait for a printer. Each
// use has its own, and none tells anything of the master key. [File.Forget] and [File.Rotate] change the master key, and
// with it every derived one: what was sealed before can be sealed anew ([File.DerivedKeys]) until [File.Settle], and then no
// longer be opened by anybody, which is the point.
func (f *File) DerivedKey(use string) ([]byte, error) {
	keys, err := f.DerivedKeys(use)
	if err != nil {
		return nil, err
	}
	return keys[0], nil
}

// DerivedKeys gives the key of a use that is in force, and after it those of a change of the master key that is not settled:
// one of them opens what was sealed before, and then it is to be sealed under the first.
func (f *File) DerivedKeys(use string) ([][]byte, error) {
	f.mu.RLock()
	defer f.mu.RUnlock()
	var out [][]byte
	for _, master := range append([]masterKey{f.master}, f.spare...) {
		key, err := master.derive(forOthers + use)
		if err != nil {
			return nil, fmt.Errorf("derive a key for %s: %w", use, err)
		}
		out = append(out, key)
	}
	return out, nil
}
