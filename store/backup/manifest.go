package backup

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/store/staff"
)

// Format is the form of archives that this release makes, and the highest that it reads.
//
// 1: first release, 2026-11.
const Format = 1

// What is in an archive.
const (
	NameManifest = "manifest.json"
	NameSums     = "SHA256SUMS"
	NameLedger   = "ledger.db"
	NamePeople   = "people.db"
	NameStaff    = "staff.db"
	NameDemo     = "demo.json" // marks a folder of the demo
)

// Why an archive is refused.
var (
	// ErrForeign says that it is no backup of ours.
	ErrForeign = errors.New("this is not a backup of pottrail")
	// ErrDamaged says that it is one, and that something in it was changed or is missing.
	ErrDamaged = errors.New("the backup is damaged")
	// ErrNewer says that a later release made it.
	ErrNewer = errors.New("the backup was made by a later release")
)

// Manifest says what is in an archive.
type Manifest struct {
	Format  int             `json:"format"`
	Release string          `json:"release"` // that made it
	Created time.Time       `json:"created"` // when the copying began; what was recorded later is not in it
	Demo    bool            `json:"demo"`    // of the invented network
	Ledger  store.Contents  `json:"ledger"`
	People  people.Contents `json:"people"`
	Staff   *staff.Contents `json:"staff,omitzero"` // nil: there was no list of staff
	Files   []File          `json:"files"`          // in the order in which they stand in the archive
}

// File is one file in an archive.
type File struct {
	Name   string `json:"name"`
	Size   int64  `json:"size"`
	SHA256 string `json:"sha256"` // hexadecimal
}

// Total is how many bytes the files have together.
func (m Manifest) Total() int64 {
	var sum int64
	for _, f := range m.Files {
		sum += f.Size
	}
	return sum
}

// names are the files, in the order in which they stand in the archive.
func (m Manifest) names() []string {
	names := []string{NameLedger, NamePeople}
	if m.Staff != nil {
		names = append(names, NameStaff)
	}
	if m.Demo {
		names = append(names, NameDemo)
	}
	return names
}

// mostManifest is the largest manifest that is read, in bytes: a hundred times what one of ten origins takes.
const mostManifest = 1 << 20

func (m Manifest) encode() ([]byte, error) {
	text, err := json.Marshal(m, json.Deterministic(true), jsontext.WithIndent("  "))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", NameManifest, err)
	}
	return append(text, '\n'), nil
}

// sums is the list of digests as sha256sum takes it.
func (m Manifest) sums(manifest []byte) []byte {
	var b strings.Builder
	fmt.Fprintf(&b, "%s  %s\n", digest(manifest), NameManifest)
	for _, f := range m.Files {
		fmt.Fprintf(&b, "%s  %s\n", f.SHA256, f.Name)
	}
	return []byte(b.String())
}

func digest(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// decodeManifest reads a manifest strictly.
func decodeManifest(text []byte) (Manifest, error) {
	var head struct {
		Format int `json:"format"`
	}
	if err := json.Unmarshal(text, &head); err != nil {
		return Manifest{}, fmt.Errorf("%w: %s cannot be read", ErrDamaged, NameManifest)
	}
	if head.Format > Format {
		return Manifest{}, fmt.Errorf("%w (backup format %d, this one reads up to %d); restore it with that release", ErrNewer, head.Format, Format)
	}
	var m Manifest
	if err := json.Unmarshal(text, &m, json.RejectUnknownMembers(true)); err != nil {
		return Manifest{}, fmt.Errorf("%w: %s cannot be read", ErrDamaged, NameManifest)
	}
	names := make([]string, len(m.Files))
	for i, f := range m.Files {
		if names[i] = f.Name; f.Size < 1 || len(f.SHA256) != 2*sha256.Size {
			return Manifest{}, fmt.Errorf("%w: %s says nothing of the size or digest of a file", ErrDamaged, NameManifest)
		}
	}
	if m.Format < 1 || m.Created.IsZero() || !slices.Equal(names, m.names()) {
		return Manifest{}, fmt.Errorf("%w: %s does not name the files that belong in a backup", ErrDamaged, NameManifest)
	}
	return m, nil
}
