package main

import (
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
)

// replay goes through a traced run step by step and knows at each what is certainly on disk, and what a power cut may leave
// out, tear or put in another order: what was written since the file's last sync, and names since their folder's.
type replay struct {
	ops     []op
	next    int
	deaf    func(o op) bool // syncs that are left out, for a control; nil: none
	files   map[int]*disked
	names   map[string]int // on disk for certain
	pending []op           // names that may be undone
}

// disked is one file.
type disked struct {
	data    []byte // on disk for certain
	pending []op   // writes and sizes that may be undone
	order   []int  // which step each of them was
}

func newReplay(ops []op, deaf func(op) bool) *replay {
	return &replay{ops: ops, deaf: deaf, files: map[int]*disked{}, names: map[string]int{}}
}

// until does the steps before one.
func (r *replay) until(step int) {
	for ; r.next < step; r.next++ {
		o := r.ops[r.next]
		switch o.kind {
		case opWrite, opSize:
			f := r.file(o.file)
			f.pending, f.order = append(f.pending, o), append(f.order, r.next)
		case opName, opUnname:
			o.before = r.next
			r.pending = append(r.pending, o)
		case opSync:
			if r.deaf == nil || !r.deaf(o) {
				r.file(o.file).sync(o.before)
			}
		case opFolder:
			if r.deaf == nil || !r.deaf(o) {
				r.syncNames(o)
			}
		case opSaid:
		}
	}
}

func (r *replay) file(n int) *disked {
	f := r.files[n]
	if f == nil {
		f = &disked{}
		r.files[n] = f
	}
	return f
}

// sync puts on disk what was written before a step.
func (f *disked) sync(before int) {
	n := 0
	for n < len(f.pending) && f.order[n] < before {
		f.data = apply(f.data, f.pending[n], nil)
		n++
	}
	f.pending, f.order = f.pending[n:], f.order[n:]
}

func (r *replay) syncNames(o op) {
	r.pending = slices.DeleteFunc(r.pending, func(p op) bool {
		if filepath.Dir(p.name) != o.name || p.before >= o.before {
			return false
		}
		rename(r.names, p)
		return true
	})
}

func rename(names map[string]int, o op) {
	if o.kind == opUnname {
		delete(names, o.name)
		return
	}
	names[o.name] = o.file
	if o.old != "" && names[o.old] == o.file {
		delete(names, o.old)
	}
}

// sector is what a disk writes whole, in bytes.
const sector = 512

// apply does a write or sets a size; with chance, only some sectors of the write.
func apply(data []byte, o op, chance *rand.Rand) []byte {
	if o.kind == opSize {
		if int64(len(data)) > o.at {
			return data[:o.at]
		}
		return append(data, make([]byte, o.at-int64(len(data)))...)
	}
	end := o.at + int64(len(o.data))
	if int64(len(data)) < end {
		data = append(data, make([]byte, end-int64(len(data)))...)
	}
	if chance == nil {
		copy(data[o.at:], o.data)
		return data
	}
	for from := o.at; from < end; {
		to := min(end, (from/sector+1)*sector)
		if chance.IntN(2) == 0 {
			copy(data[from:to], o.data[from-o.at:to-o.at])
		}
		from = to
	}
	return data
}

// left is what a power cut here may leave, by name. How much is lost is drawn by chance: nothing, all that was not synced, the
// last, some; whole, torn, in another order.
func (r *replay) left(chance *rand.Rand) map[string][]byte {
	names := maps.Clone(r.names)
	style := chance.IntN(4)
	last := chance.IntN(len(r.pending) + 1)
	for i, o := range r.pending {
		if style == 0 || style == 1 && i < last || style == 2 && chance.IntN(2) == 0 { // and style 3: none
			rename(names, o)
		}
	}
	out := map[string][]byte{}
	for _, name := range slices.Sorted(maps.Keys(names)) {
		out[name] = r.file(names[name]).left(chance)
	}
	return out
}

func (f *disked) left(chance *rand.Rand) []byte {
	data := append(make([]byte, 0, len(f.data)+1<<16), f.data...)
	pending := f.pending
	last := chance.IntN(len(pending) + 1)
	switch chance.IntN(7) {
	case 0: // all of it
		last = len(pending)
		fallthrough
	case 1: // the first so many
		for _, o := range pending[:last] {
			data = apply(data, o, nil)
		}
	case 2: // the first so many, and a part of the next
		for i, o := range pending[:min(last+1, len(pending))] {
			if i < last {
				data = apply(data, o, nil)
			} else {
				data = apply(data, o, chance)
			}
		}
	case 3: // nothing
	case 4: // some
		for _, o := range pending {
			if chance.IntN(2) == 0 {
				data = apply(data, o, nil)
			}
		}
	case 5: // all but one
		for i, o := range pending {
			if i != last {
				data = apply(data, o, nil)
			}
		}
	case 6: // some sectors of some, in any order
		pending = slices.Clone(pending)
		chance.Shuffle(len(pending), func(i, j int) { pending[i], pending[j] = pending[j], pending[i] })
		for _, o := range pending[:last] {
			data = apply(data, o, chance)
		}
	}
	return data
}

// put writes files into a folder, in place of what was there.
func put(folder string, files map[string][]byte) error {
	if err := os.RemoveAll(folder); err != nil {
		return err
	}
	if err := os.Mkdir(folder, 0o700); err != nil {
		return err
	}
	for name, data := range files {
		if err := os.WriteFile(filepath.Join(folder, name), data, 0o600); err != nil {
			return err
		}
	}
	return nil
}
