package certificates

import (
	"crypto/tls"
	"errors"
	"io/fs"
	"log/slog"
	"path/filepath"
	"time"
)

// OpenLocal is a source of certificates of the authority in a folder, which is made if there is none. They are for the names
// and for this machine, and are made anew after two thirds of their life, or for other names. Errors as of [OpenAuthority],
// and [ErrNotPermitted] for a name that an authority of before may not vouch for.
func OpenLocal(dir string, names Names, at time.Time, log *slog.Logger) (*Source, error) {
	authority, err := OpenAuthority(dir, names, at)
	if err != nil {
		return nil, err
	}
	return open(&local{authority: authority, names: names.with(thisMachine)}, at, log)
}

// again is how long it takes until a certificate that could not be made is tried again.
const again = time.Hour

// local makes certificates with an authority.
type local struct {
	authority *Authority
	names     Names
	shown     *tls.Certificate // nil until the first look
	failed    error
	retry     time.Time
}

func (l *local) kind() string { return KindLocal }
func (l *local) file() string { return filepath.Join(l.authority.dir, fileServer) }

// look makes a certificate when it is time.
func (l *local) look(at time.Time) (*tls.Certificate, error) {
	var before *tls.Certificate
	switch {
	case l.shown != nil:
		if at.Before(renewal(l.shown.Leaf, l.authority.pair.Leaf)) || !l.shown.Leaf.NotAfter.Before(l.authority.Until()) {
			return nil, nil
		}
	default:
		var err error
		if before, err = l.adopt(); err != nil {
			return nil, err
		}
		if before != nil && at.Before(renewal(before.Leaf, l.authority.pair.Leaf)) {
			l.shown = before
			return before, nil
		}
	}
	if at.Before(l.retry) && l.retry.Sub(at) <= again {
		return nil, l.failed
	}
	made, err := l.authority.issue(l.names, at)
	if err == nil {
		l.shown, l.failed, l.retry = made, nil, time.Time{}
		return made, nil
	}
	l.failed, l.retry = err, at.Add(again)
	if before != nil { // it serves on with what it has; the next look says what is wrong
		l.shown = before
		return before, nil
	}
	return nil, err
}

// adopt takes up the certificate of before. One that is missing, damaged, of another authority or for other names is made
// anew; one whose key others can read is an error.
func (l *local) adopt() (*tls.Certificate, error) {
	data, err := readFile(l.file(), true)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, l.authority.permits(l.names)
	}
	if err != nil {
		return nil, err
	}
	made, err := pair(data, data, l.file())
	if err == nil && made.Leaf.CheckSignatureFrom(l.authority.pair.Leaf) == nil && l.names.same(made.Leaf.DNSNames, made.Leaf.IPAddresses) {
		return made, nil
	}
	return nil, l.authority.permits(l.names)
}
