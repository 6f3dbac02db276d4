package cli

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
)

// writeAround writes files beside their places, does what makes them count, and only then moves them there: what is not
// recorded is not given out.
func writeAround(ctx context.Context, files map[string][]byte, record func(context.Context) error) error {
	const aside = ".part"
	defer func() {
		for name := range files {
			_ = os.Remove(name + aside) // gone already when all went well
		}
	}()
	for name, content := range files {
		if err := os.WriteFile(name+aside, content, 0o600); err != nil {
			return couldNot(fmt.Errorf("nothing was printed: %w", err), "name another file with --out")
		}
	}
	if err := record(ctx); err != nil {
		return err
	}
	for name := range files {
		if err := os.Rename(name+aside, name); err != nil {
			return couldNot(fmt.Errorf("recorded as printed, but the file cannot be written: %w", err), "print again: it will be the next copy; record this one as spoiled")
		}
	}
	return nil
}

// folderFor refuses a file in a folder that is not there, before a copy or number is taken for it.
func folderFor(out string) error {
	at, err := os.Stat(filepath.Dir(out))
	if err == nil && !at.IsDir() {
		err = fmt.Errorf("%s is no folder", filepath.Dir(out))
	}
	if err != nil {
		return couldNot(fmt.Errorf("nothing was printed: %w", err), "name another file with --out")
	}
	return nil
}
