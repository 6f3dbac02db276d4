package store

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/fnv"
	"io"
	"os"
)

// The file format of bbolt, as far as a walk over its pages needs it: little-endian on the machines that we build for,
// which is what bbolt writes there. bbolt's own check follows whatever a damaged page says and can take the process down
// with it; this walk believes nothing, and runs first.
const (
	pageHead   = 16 // id, flags, count, overflow
	pageItem   = 16 // of a branch, and of a leaf
	branchPage = 0x01
	leafPage   = 0x02
	freePage   = 0x10
	bucketLeaf = 0x01
	deepest    = 64
)

// pages walks a file from its root.
type pages struct {
	file io.ReaderAt
	size uint64 // of a page
	high uint64 // pages in use
	free uint64 // page of the list of free pages
	root uint64
	seen map[uint64]bool
}

// checkPages says what is wrong with the pages of a bbolt file, or nil. Nothing may write to the file meanwhile.
func checkPages(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer func() { _ = f.Close() }()
	p := &pages{file: f, seen: map[uint64]bool{0: true, 1: true}}
	if err := p.meta(); err != nil {
		return err
	}
	if err := p.freelist(); err != nil {
		return err
	}
	if err := p.walk(p.root, 0); err != nil {
		return err
	}
	for id := range p.high {
		if !p.seen[id] {
			return fmt.Errorf("page %d is neither used nor free", id)
		}
	}
	return nil
}

// meta takes the newer of the two meta pages whose checksum fits.
func (p *pages) meta() error {
	const length = 64
	newest := uint64(0)
	read := func(at int64) {
		raw := make([]byte, length)
		if _, err := p.file.ReadAt(raw, at); err != nil {
			return
		}
		sum := fnv.New64a()
		_, _ = sum.Write(raw[:length-8])
		le := binary.LittleEndian
		txid := le.Uint64(raw[48:])
		if le.Uint32(raw) != 0xED0CDAED || sum.Sum64() != le.Uint64(raw[56:]) || p.size != 0 && txid <= newest {
			return
		}
		newest, p.size, p.root, p.free, p.high = txid, uint64(le.Uint32(raw[8:])), le.Uint64(raw[16:]), le.Uint64(raw[32:]), le.Uint64(raw[40:])
	}
	read(pageHead)
	for size := int64(1 << 10); size <= 1<<16; size <<= 1 {
		read(size + pageHead)
	}
	if p.size < 1<<10 || p.size > 1<<16 {
		return errors.New("no meta page is whole")
	}
	return nil
}

// page reads a page with its overflow and marks it used.
func (p *pages) page(id uint64) (raw []byte, flags uint16, count int, err error) {
	if id < 2 || id >= p.high {
		return nil, 0, 0, fmt.Errorf("page %d is not in 2 to %d", id, p.high)
	}
	head := make([]byte, pageHead)
	if _, err := p.file.ReadAt(head, int64(id*p.size)); err != nil {
		return nil, 0, 0, fmt.Errorf("page %d: %w", id, err)
	}
	le := binary.LittleEndian
	over := uint64(le.Uint32(head[12:]))
	if own := le.Uint64(head); own != id {
		return nil, 0, 0, fmt.Errorf("page %d says that it is page %d", id, own)
	}
	if id+over >= p.high {
		return nil, 0, 0, fmt.Errorf("page %d goes on beyond the end", id)
	}
	for i := id; i <= id+over; i++ {
		if p.seen[i] {
			return nil, 0, 0, fmt.Errorf("page %d is used twice", i)
		}
		p.seen[i] = true
	}
	raw = make([]byte, (over+1)*p.size)
	if _, err := p.file.ReadAt(raw, int64(id*p.size)); err != nil {
		return nil, 0, 0, fmt.Errorf("page %d: %w", id, err)
	}
	return raw, le.Uint16(head[8:]), int(le.Uint16(head[10:])), nil
}

func (p *pages) freelist() error {
	raw, flags, count, err := p.page(p.free)
	if err != nil {
		return fmt.Errorf("list of free pages: %w", err)
	}
	if flags != freePage {
		return fmt.Errorf("page %d is no list of free pages", p.free)
	}
	ids := raw[pageHead:]
	if count == 0xffff { // then the first is the count
		n := binary.LittleEndian.Uint64(ids)
		if n > p.high {
			return fmt.Errorf("%d free pages are listed, of %d", n, p.high)
		}
		ids, count = ids[8:], int(n)
	}
	if count*8 > len(ids) {
		return fmt.Errorf("the list of free pages holds %d, which is more than its page", count)
	}
	for i := range count {
		id := binary.LittleEndian.Uint64(ids[8*i:])
		if id < 2 || id >= p.high || p.seen[id] {
			return fmt.Errorf("page %d is listed as free, and is used, listed twice or beyond the end", id)
		}
		p.seen[id] = true
	}
	return nil
}

func (p *pages) walk(id uint64, depth int) error {
	if depth > deepest {
		return fmt.Errorf("page %d lies too deep", id)
	}
	raw, flags, count, err := p.page(id)
	if err != nil {
		return err
	}
	return p.items(id, raw, flags, count, depth)
}

// items goes through a page, or through one that stands inside the value of a small bucket.
func (p *pages) items(id uint64, raw []byte, flags uint16, count, depth int) error {
	if flags != branchPage && flags != leafPage {
		return fmt.Errorf("page %d is neither branch nor leaf", id)
	}
	if pageHead+count*pageItem > len(raw) || flags == branchPage && count == 0 {
		return fmt.Errorf("page %d cannot hold %d items", id, count)
	}
	le := binary.LittleEndian
	var last []byte
	for i := range count {
		at := pageHead + i*pageItem
		item := raw[at:]
		var pos, keySize, valueSize uint64
		if flags == branchPage {
			pos, keySize = uint64(le.Uint32(item)), uint64(le.Uint32(item[4:]))
		} else {
			pos, keySize, valueSize = uint64(le.Uint32(item[4:])), uint64(le.Uint32(item[8:])), uint64(le.Uint32(item[12:]))
		}
		start := uint64(at) + pos
		if pos < pageItem || start+keySize+valueSize > uint64(len(raw)) {
			return fmt.Errorf("page %d: item %d lies outside", id, i)
		}
		key, value := raw[start:start+keySize], raw[start+keySize:start+keySize+valueSize]
		if i > 0 && bytes.Compare(last, key) >= 0 {
			return fmt.Errorf("page %d: item %d is out of order", id, i)
		}
		last = key
		switch {
		case flags == branchPage:
			if err := p.walk(le.Uint64(item[8:]), depth+1); err != nil {
				return err
			}
		case le.Uint32(item)&bucketLeaf != 0:
			if err := p.bucket(id, value, depth); err != nil {
				return fmt.Errorf("bucket %q: %w", key, err)
			}
		case le.Uint32(item) != 0:
			return fmt.Errorf("page %d: item %d is of no known sort", id, i)
		}
	}
	return nil
}

func (p *pages) bucket(id uint64, value []byte, depth int) error {
	const head = 16 // root, sequence
	if len(value) < head {
		return fmt.Errorf("page %d: %d bytes are no bucket", id, len(value))
	}
	le := binary.LittleEndian
	if root := le.Uint64(value); root != 0 {
		return p.walk(root, depth+1)
	}
	inside := value[head:]
	if len(inside) < pageHead || le.Uint16(inside[8:]) != leafPage {
		return fmt.Errorf("page %d: a small bucket without its leaf", id)
	}
	return p.items(id, inside, leafPage, int(le.Uint16(inside[10:])), depth+1)
}
