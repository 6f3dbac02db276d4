package canary

import (
	"encoding/binary"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
)

// Hit is a word that was found.
type Hit struct {
	Where  string // a file, or what the searcher calls the bytes
	Offset int
	Word   string // as it was given
	Form   string // how it is written there
}

// String says where what was found.
func (h Hit) String() string {
	return fmt.Sprintf("%s, byte %d: %q (%s)", h.Where, h.Offset, h.Word, h.Form)
}

// Words are the words that are looked for.
type Words struct {
	folded, exact index
}

// mostHits is how many hits of one search are told.
const mostHits = 20

// index finds forms by their first bytes.
type index struct {
	two  []bool // by the first two bytes: whether any form begins so
	four map[uint32][]named
}

type named struct {
	form
	word string
}

// New prepares a search for words. Each is looked for in every form; one with fewer than five bytes, and a form with fewer,
// is not looked for, since it would be met by chance.
func New(words ...string) *Words {
	w := &Words{folded: newIndex(), exact: newIndex()}
	for _, word := range words {
		for _, f := range forms(word) {
			if f.folded {
				w.folded.add(named{f, word})
			} else {
				w.exact.add(named{f, word})
			}
		}
	}
	return w
}

func newIndex() index { return index{two: make([]bool, 1<<16), four: map[uint32][]named{}} }

func (x *index) add(n named) {
	x.two[binary.BigEndian.Uint16([]byte(n.bytes))] = true
	first := binary.BigEndian.Uint32([]byte(n.bytes))
	x.four[first] = append(x.four[first], n)
}

func (x *index) search(where string, data []byte, hits []Hit) []Hit {
	for i := 0; i+shortest <= len(data) && len(hits) < mostHits; i++ {
		if !x.two[uint16(data[i])<<8|uint16(data[i+1])] {
			continue
		}
		for _, n := range x.four[binary.BigEndian.Uint32(data[i:])] {
			if len(data)-i >= len(n.bytes) && string(data[i:i+len(n.bytes)]) == n.bytes {
				hits = append(hits, Hit{where, i, n.word, n.name})
			}
		}
	}
	return hits
}

// Search gives what is found in bytes, at most 20 hits.
func (w *Words) Search(where string, data []byte) []Hit {
	hits := w.exact.search(where, data, nil)
	return w.folded.search(where, []byte(lower(string(data))), hits)
}

// SearchFolder gives what is found in a folder and all below it: in the names of files and folders, in what links point at,
// and in what files hold. Files for which skip is true (by their path within) are looked at by name only.
func (w *Words) SearchFolder(dir string, skip func(path string) bool) ([]Hit, error) {
	var hits []Hit
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		within, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		hits = append(hits, w.Search("the name "+within, []byte(d.Name()))...)
		switch {
		case d.Type()&fs.ModeSymlink != 0:
			to, err := os.Readlink(path)
			hits = append(hits, w.Search("the link "+within, []byte(to))...)
			return err
		case !d.Type().IsRegular() || skip != nil && skip(within):
			return nil
		}
		data, err := os.ReadFile(path)
		hits = append(hits, w.Search(within, data)...)
		return err
	})
	return hits[:min(len(hits), mostHits)], err
}

// Found lists which of the words were hit, each once, by name.
func Found(hits []Hit) []string {
	var out []string
	for _, h := range hits {
		out = append(out, h.Word)
	}
	slices.Sort(out)
	return slices.Compact(out)
}
