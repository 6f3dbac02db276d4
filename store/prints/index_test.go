package prints

import (
	"bytes"
	"fmt"

	bolt "go.etcd.io/bbolt"
)

// checkIndexes says where an index and the records do not fit.
func checkIndexes(tx *bolt.Tx) error {
	want := map[string]map[string]string{inOpen: {}, inDone: {}, inNames: {}, inBodies: {}, inOwed: {}}
	done := uint64(0)
	c := tx.Bucket([]byte(inJobs)).Cursor()
	for key, raw := c.First(); key != nil; key, raw = c.Next() {
		r, err := parse(be64of(key), raw)
		if err != nil {
			return err
		}
		if r.State.Done() {
			done++
			want[inDone][string(doneKey(&r))] = ""
		} else {
			want[inOpen][string(openKey(&r))] = string(openValue(&r))
		}
		if r.Name != "" {
			want[inNames][string(nameKey(r.Name, r.Copy, r.ID))] = ""
		}
		if r.State.keepsBody() {
			want[inBodies][string(key)] = "*"
		}
	}
	if done != countDone(tx) {
		return fmt.Errorf("%d are done, and %d are counted", done, countDone(tx))
	}
	for bucket, keys := range want {
		n := 0
		c := tx.Bucket([]byte(bucket)).Cursor()
		for key, value := c.First(); key != nil; key, value = c.Next() {
			n++
			if bucket == inOwed {
				r, err := load(tx, be64of(key))
				if err != nil || r.State != NotPrinted {
					return fmt.Errorf("owed for a job that is %s: %w", r.State, err)
				}
				continue
			}
			wanted, ok := keys[string(key)]
			if !ok || wanted != "*" && !bytes.Equal(value, []byte(wanted)) {
				return fmt.Errorf("%s has %q = %q, wanted %q (%v)", bucket, key, value, wanted, ok)
			}
		}
		if bucket != inOwed && n != len(keys) {
			return fmt.Errorf("%s has %d entries, wanted %d", bucket, n, len(keys))
		}
	}
	return nil
}

func be64of(key []byte) (n uint64) {
	for _, b := range key {
		n = n<<8 | uint64(b)
	}
	return n
}
