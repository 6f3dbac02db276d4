package certificates

import (
	"crypto/sha256"
	"encoding/hex"
	"path/filepath"
	"strings"
	"time"
)

// Status says how it stands with the certificate, for people and programs.
type Status struct {
	Kind        string     `json:"kind"`                 // KindNone, KindFiles or KindLocal
	File        string     `json:"file,omitzero"`        // of the certificate
	Names       []string   `json:"names,omitzero"`       // host names, then addresses
	From        time.Time  `json:"from,omitzero"`        //
	Until       time.Time  `json:"until,omitzero"`       //
	Renewal     time.Time  `json:"renewal,omitzero"`     // when it is made anew; not for a clinic's own files
	Fingerprint string     `json:"fingerprint,omitzero"` // SHA-256, as [Fingerprint] writes it
	Authority   *Authentic `json:"authority,omitzero"`   // the local authority
	Trouble     string     `json:"trouble,omitzero"`     // why it is not valid, or why a new one is not used
	Served      bool       `json:"served"`               // by a daemon that runs now
	Unencrypted bool       `json:"unencrypted,omitzero"` // pages are served beyond this machine without one
}

// Authentic is the local authority as others may know it: nothing of it is secret.
type Authentic struct {
	File        string    `json:"file"` // its certificate, without the key
	Name        string    `json:"name"`
	Until       time.Time `json:"until"`
	Fingerprint string    `json:"fingerprint"`
	For         []string  `json:"for"` // what it may vouch for
}

// Fingerprint is the SHA-256 of a certificate as phones show it, in four groups of eight bytes that two people can hold
// against each other.
func Fingerprint(der []byte) string {
	sum := sha256.Sum256(der)
	var groups []string
	for i := 0; i < len(sum); i += 8 {
		var bytes []string
		for _, b := range sum[i : i+8] {
			bytes = append(bytes, strings.ToUpper(hex.EncodeToString([]byte{b})))
		}
		groups = append(groups, strings.Join(bytes, ":"))
	}
	return strings.Join(groups, " ")
}

// Status says how it stands at an instant.
func (s *Source) Status(at time.Time) Status {
	s.At(at)
	s.mu.Lock()
	defer s.mu.Unlock()
	leaf := s.current.Leaf
	out := Status{Kind: s.from.kind(), File: s.from.file(), Names: namesOf(s.current), From: leaf.NotBefore.UTC(), Until: leaf.NotAfter.UTC(),
		Fingerprint: Fingerprint(leaf.Raw), Trouble: s.trouble}
	if err := s.errLocked(at); err != nil {
		out.Trouble = err.Error()
	}
	if l, ok := s.from.(*local); ok {
		out.Authority = l.authority.told()
		out.Renewal = renewal(leaf, l.authority.pair.Leaf).UTC()
	}
	return out
}

func (a *Authority) told() *Authentic {
	return &Authentic{File: a.File(), Name: a.Name(), Until: a.Until().UTC(), Fingerprint: Fingerprint(a.pair.Certificate[0]), For: a.Permitted()}
}

// LookAt says how it stands with the authority in a folder that no daemon has open, and changes nothing; [fs.ErrNotExist] when
// there is none.
func LookAt(dir string, at time.Time) (Status, error) {
	authority, err := ReadAuthority(dir)
	if err != nil {
		return Status{}, err
	}
	out := Status{Kind: KindLocal, Authority: authority.told()}
	path := filepath.Join(dir, fileServer)
	data, err := readFile(path, true)
	if err != nil {
		out.Trouble = "the next start makes a certificate for the pages: " + err.Error()
		return out, nil
	}
	made, err := pair(data, data, path)
	if err != nil {
		out.Trouble = "the next start makes a certificate for the pages: " + err.Error()
		return out, nil
	}
	out.File, out.Names, out.From, out.Until = path, namesOf(made), made.Leaf.NotBefore.UTC(), made.Leaf.NotAfter.UTC()
	out.Fingerprint, out.Renewal = Fingerprint(made.Leaf.Raw), renewal(made.Leaf, authority.pair.Leaf).UTC()
	if at.After(out.Until) {
		out.Trouble = "it ended; the next start makes a new one"
	}
	return out, nil
}
