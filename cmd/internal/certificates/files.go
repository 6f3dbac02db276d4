package certificates

import (
	"crypto/tls"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"time"
)

// OpenFiles is a source of a certificate, with what stands between it and its root, and a key, in PEM files of the clinic's
// own. They are read again when either changes. The key must be its owner's alone: [ErrKeyMode]; what cannot be read or does
// not fit together is an [ErrCertificate].
func OpenFiles(certificate, key string, at time.Time, log *slog.Logger) (*Source, error) {
	return open(&files{certificate: certificate, key: key}, at, log)
}

// files are a certificate and a key somewhere on the disk.
type files struct {
	certificate, key string
	seen             [2]mark // what was read, or could not be
}

// mark is by what a file that was changed is told from what it was.
type mark struct {
	size int64
	time time.Time
	file fs.FileInfo
}

func (m mark) same(o mark) bool {
	return m.file != nil && o.file != nil && m.size == o.size && m.time.Equal(o.time) && os.SameFile(m.file, o.file) && m.file.Mode() == o.file.Mode()
}

func marked(path string) (mark, error) {
	info, err := os.Stat(path)
	if err != nil {
		return mark{}, fmt.Errorf("%w: %w", ErrCertificate, err)
	}
	return mark{info.Size(), info.ModTime(), info}, nil
}

func (f *files) kind() string { return KindFiles }
func (f *files) file() string { return f.certificate }

// look reads the files if they are not as they were when they were read the last time with success. What cannot be used is
// looked at again at each look, since a pair is seldom written in one moment; the log tells it once.
func (f *files) look(time.Time) (*tls.Certificate, error) {
	var now [2]mark
	var err error
	for i, path := range []string{f.certificate, f.key} {
		if now[i], err = marked(path); err != nil {
			return nil, err
		}
	}
	if now[0].same(f.seen[0]) && now[1].same(f.seen[1]) {
		return nil, nil
	}
	certificate, err := readFile(f.certificate, false)
	if err != nil {
		return nil, err
	}
	key, err := readFile(f.key, true)
	if err != nil {
		return nil, err
	}
	made, err := pair(certificate, key, f.certificate+" and "+f.key)
	if err != nil {
		return nil, err
	}
	if len(made.Leaf.DNSNames) == 0 && len(made.Leaf.IPAddresses) == 0 {
		return nil, fmt.Errorf("%w: %s is for no host name and no address (it has no subject alternative names), so no browser takes it", ErrCertificate, f.certificate)
	}
	f.seen = now
	return made, nil
}
