package daemon

import (
	"errors"
	"io/fs"
	"math"
	"os"

	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/cmd/internal/examine"
)

// FilesOf are the files of a data folder for `pottrail fsck`: the ledger, and of the others those that are there.
func FilesOf(o config.Options) examine.Job {
	f := folder{o.Folder.Dir}
	job := examine.Job{Ledger: f.path(fileLedger)}
	if known, err := known(f, math.MaxInt64); err == nil {
		known.into(&job, math.MaxInt)
		job.Unread = known.bad
	} else {
		job.Unread = 1
	}
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

// knownSigned is what is known beside the ledger of checkpoints that were made.
type knownSigned struct {
	witnessed
	keys []string
}

// known reads the file of checkpoints, so many bytes of its end, and the public part of the key that signs.
func known(f folder, most int64) (out knownSigned, err error) {
	if out.witnessed, err = (&witness{path: f.path(fileWitness)}).read(most); err != nil {
		return out, err
	}
	if there(f.path(fileSigning)) {
		if signer, _, err := openSigner(f, ""); err == nil { // else opening it says why
			out.keys = []string{signer.Key()}
		}
	}
	return out, nil
}

// into puts the latest ones into a job.
func (k knownSigned) into(job *examine.Job, most int) {
	job.Keys = k.keys
	for _, c := range k.kept[max(0, len(k.kept)-most):] {
		job.Checkpoints = append(job.Checkpoints, examine.Checkpoint{Where: c.Where, Made: c.At, Note: c.Note})
	}
}

// Checkpoints has a job hold a ledger against the lines of a file of checkpoints that lies elsewhere.
func Checkpoints(job *examine.Job, path string) error {
	if _, err := os.Stat(path); err != nil {
		return err
	}
	found, err := (&witness{path: path}).read(math.MaxInt64)
	if err != nil {
		return err
	}
	job.Checkpoints = nil
	knownSigned{found, job.Keys}.into(job, math.MaxInt)
	job.Unread = found.bad
	return nil
}

func there(path string) bool {
	_, err := os.Stat(path)
	return !errors.Is(err, fs.ErrNotExist)
}
