package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"regexp"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
	bolt "go.etcd.io/bbolt"
)

// spoil FILE BUCKET OLD NEW changes words in the values of one bucket of a file behind everybody's back, all of them; an
// empty OLD takes the bucket's first key away.
func scriptSpoil(ts *testscript.TestScript, _ bool, args []string) {
	db, err := bolt.Open(ts.MkAbs(args[0]), 0o600, &bolt.Options{Timeout: time.Second})
	ts.Check(err)
	changed := 0
	err = db.Update(func(tx *bolt.Tx) error {
		b := tx.Bucket([]byte(args[1]))
		keys, values := [][]byte{}, [][]byte{}
		err := b.ForEach(func(key, value []byte) error {
			if args[2] != "" && bytes.Contains(value, []byte(args[2])) || args[2] == "" && len(keys) == 0 {
				keys, values = append(keys, bytes.Clone(key)), append(values, bytes.ReplaceAll(value, []byte(args[2]), []byte(args[3])))
			}
			return nil
		})
		for i, key := range keys {
			changed++
			if args[2] == "" {
				err = errors.Join(err, b.Delete(key))
			} else {
				err = errors.Join(err, b.Put(key, values[i]))
			}
		}
		return err
	})
	ts.Check(errors.Join(err, db.Close()))
	if changed == 0 {
		ts.Fatalf("%q stands nowhere in %s of %s", args[2], args[1], args[0])
	}
}

// scrawl FILE writes over the pages of a file from the third on, as a disk does that lost its way; its headers stay.
func scriptScrawl(ts *testscript.TestScript, _ bool, args []string) {
	path := ts.MkAbs(args[0])
	data, err := os.ReadFile(path)
	ts.Check(err)
	for i := 2 * os.Getpagesize(); i < len(data); i++ {
		data[i] ^= 0x5a
	}
	ts.Check(os.WriteFile(path, data, 0o600))
}

// sick FOLDER WORDS waits until the daemon of a folder answers that it is not well, in these words.
func scriptSick(ts *testscript.TestScript, _ bool, args []string) {
	ts.Check(await(func() error {
		err := health(context.Background(), ts.MkAbs(args[0]))
		if err == nil || !regexp.MustCompile(args[1]).MatchString(err.Error()) {
			return fmt.Errorf("its health is %w", err)
		}
		return nil
	}))
}
