package daemon

import (
	"errors"
	"io/fs"
	"os"

	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/cmd/internal/examine"
)

// FilesOf are the files of a data folder for `pottrail fsck`: the ledger, and of the others those that are there.
func FilesOf(o config.Options) examine.Job {
	f := folder{o.Folder.Dir}
	job := examine.Job{Ledger: f.path(fileLedger)}
	if there(f.path(filePeople)) {
		job.People, job.Key, job.KeyGiven = f.path(filePeople), o.People.KeyFile, o.People.KeyGiven
		if job.Key == "" {
			job.Key = f.path(fileKey)
		}
		if there(f.path(filePrints)) {
			job.Prints = f.path(filePrints)
		}
		if there(f.path(fileStaff)) {
			job.Staff = f.path(fileStaff)
		}
	}
	return job
}

func there(path string) bool {
	_, err := os.Stat(path)
	return !errors.Is(err, fs.ErrNotExist)
}
