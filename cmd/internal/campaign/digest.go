package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"strings"
	"time"

	bolt "go.etcd.io/bbolt"

	"github.com/pottrail/pottrail/store/boltfile"
)

// modeDigest is the child that says what a file holds.
const modeDigest = "digest"

// printDigest prints a hash of every key and value that a reader of a file would meet, going through it and asking for each.
func printDigest(path string, out io.Writer) error {
	db, err := boltfile.Open(path, boltfile.ReadOnly(time.Second))
	if err != nil {
		return err
	}
	sum := sha256.New()
	write := func(b []byte) { fmt.Fprintf(sum, "%d:%s", len(b), b) }
	err = boltfile.View(db, func(tx *bolt.Tx) error {
		return tx.ForEach(func(name []byte, b *bolt.Bucket) error {
			write(name)
			return b.ForEach(func(key, value []byte) error {
				if found := b.Get(key); !bytes.Equal(found, value) {
					return errors.New("what is met going through cannot be asked for")
				}
				write(key)
				write(value)
				return nil
			})
		})
	})
	if err != nil {
		return err
	}
	_, err = fmt.Fprintln(out, hex.EncodeToString(sum.Sum(nil)))
	return err
}

// digest asks a child what a file holds; ok is false when it cannot be read, or ended the child.
func digest(ctx context.Context, o options, path string) (sum string, ok bool, err error) {
	ctx, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	args := o.self(modeDigest, path)
	text, err := exec.CommandContext(ctx, args[0], args[1:]...).Output()
	var exit *exec.ExitError
	switch {
	case errors.As(err, &exit):
		return "", false, nil
	case err != nil:
		return "", false, err
	}
	return strings.TrimSpace(string(text)), true, nil
}
