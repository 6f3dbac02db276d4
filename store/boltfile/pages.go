package boltfile

import (
	"bytes"
	"context"
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
	metaPage   = 0x04
	freePage   = 0x10
	bucketLeaf = 0x01
	deepest    = 64
)

// Walk is what a walk over the pages of a file found.
type Walk struct {
	// Header says that one of the file's two headers cannot be read. The file opens all the same, at the state of the
	// other, which may be the one before the last commit.
	Header error
	// Pages is the first thing that does not fit in how pages hang together: reading such a file with bbolt may end the
	// process. Nil says that bbolt can read all that was looked at.
	Pages error
	// Done of Total pages were looked at.
	Done, Total uint64
}

// Whole says that nothing was found wrong.
func (w Walk) Whole() bool { return w.Header == nil && w.Pages == nil }

// WalkPages looks at how the pages of a file hang together; nothing may write to it meanwhile. It reads with ordinary
// reads, believes nothing, and ends on any file. Progress may be nil. The error is the system's, or the context's: then the
// walk says what was found until then.
func WalkPages(ctx context.Context, path string, progress func(done, total uint64)) (Walk, error) {
	f, err := os.Open(path)
	if err != nil {
		return Walk{}, err
	}
	defer func() { _ = f.Close() }()
	info, err := f.Stat()
	if err != nil {
		return Walk{}, err
	}
	p := &pages{ctx: ctx, file: f, progress: progress}
	out := Walk{}
	if out.Header, err = p.meta(); err != nil {
		out.Pages = err
		return out, nil
	}
	out.Total = p.high
	if uint64(info.Size())/p.size < p.high {
		out.Pages = fmt.Errorf("the file ends after %d of its %d pages: it was cut short", uint64(info.Size())/p.size, p.high)
		return out, nil
	}
	p.seen = make([]uint64, p.high/64+1)
	p.mark(0)
	p.mark(1)
	err = p.all()
	out.Done = p.done
	switch {
	case err != nil && ctx.Err() != nil:
		return out, ctx.Err()
	case errors.As(err, new(*os.PathError)): // the disk itself cannot give it
		return out, err
	}
	out.Pages = err
	return out, nil
}

// pages walks a file from its root.
type pages struct {
	ctx      context.Context
	file     io.ReaderAt
	progress func(done, total uint64)
	size     uint64 // of a page
	high     uint64 // pages in use
	free     uint64 // page of the list of free pages
	root     uint64
	seen     []uint64 // a bit a page
	done     uint64
}

func (p *pages) used(id uint64) bool { return p.seen[id/64]&(1<<(id%64)) != 0 }

func (p *pages) mark(id uint64) {
	p.seen[id/64] |= 1 << (id % 64)
	p.done++
	if p.progress != nil && p.done%4096 == 0 {
		p.progress(p.done, p.high)
	}
}

func (p *pages) all() error {
	if err := p.freelist(); err != nil {
		return err
	}
	if err := p.walk(p.root, 0, nil, nil); err != nil {
		return err
	}
	for id := range p.high {
		if !p.used(id) {
			return fmt.Errorf("page %d is neither used nor free", id)
		}
	}
	return nil
}

// meta takes the newer of the two headers whose checksum fits, and says when one does not.
func (p *pages) meta() (fault, err error) {
	const length = 64
	newest, whole := uint64(0), 0
	read := func(id uint64, at int64) bool {
		page := make([]byte, pageHead+length)
		if _, err := p.file.ReadAt(page, at); err != nil {
			return false
		}
		raw := page[pageHead:]
		sum := fnv.New64a()
		_, _ = sum.Write(raw[:length-8])
		le := binary.LittleEndian
		if le.Uint32(raw) != 0xED0CDAED || sum.Sum64() != le.Uint64(raw[56:]) {
			return false
		}
		if le.Uint64(page) == id && le.Uint16(page[8:]) == metaPage {
			whole++
		}
		if txid := le.Uint64(raw[48:]); p.size == 0 || txid > newest {
			newest, p.size, p.root, p.free, p.high = txid, uint64(le.Uint32(raw[8:])), le.Uint64(raw[16:]), le.Uint64(raw[32:]), le.Uint64(raw[40:])
		}
		return true
	}
	if read(0, 0) {
		read(1, int64(p.size))
	} else {
		for size := int64(1 << 10); size <= 1<<16 && !read(1, size); size <<= 1 {
		}
	}
	if p.size < 1<<10 || p.size > 1<<16 || p.high < 2 {
		return nil, errors.New("neither of the two headers of the file can be read")
	}
	if whole < 2 {
		return errors.New("one of the two headers of the file cannot be read: what was recorded last may be missing"), nil
	}
	return nil, nil
}

// page reads a page with its overflow and marks it used.
func (p *pages) page(id uint64) (raw []byte, flags uint16, count int, err error) {
	if err := p.ctx.Err(); err != nil {
		return nil, 0, 0, err
	}
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
		if p.used(i) {
			return nil, 0, 0, fmt.Errorf("page %d is used twice", i)
		}
		p.mark(i)
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
	last := uint64(0)
	for i := range count {
		id := binary.LittleEndian.Uint64(ids[8*i:])
		if id < 2 || id >= p.high || p.used(id) {
			return fmt.Errorf("page %d is listed as free, and is used, listed twice or beyond the end", id)
		}
		if id < last {
			return fmt.Errorf("the list of free pages is out of order at page %d", id)
		}
		last = id
		p.mark(id)
	}
	return nil
}

// walk goes through a page and all below it. Its keys must be at least from and less than until; nil sets no bound.
func (p *pages) walk(id uint64, depth int, from, until []byte) error {
	if depth > deepest {
		return fmt.Errorf("page %d lies too deep", id)
	}
	raw, flags, count, err := p.page(id)
	if err != nil {
		return err
	}
	return p.items(id, raw, flags, count, depth, from, until)
}

// items goes through a page, or through one that stands inside the value of a small bucket.
func (p *pages) items(id uint64, raw []byte, flags uint16, count, depth int, from, until []byte) error {
	if flags != branchPage && flags != leafPage {
		return fmt.Errorf("page %d is neither branch nor leaf", id)
	}
	if pageHead+count*pageItem > len(raw) || flags == branchPage && count == 0 {
		return fmt.Errorf("page %d cannot hold %d items", id, count)
	}
	le := binary.LittleEndian
	var last []byte
	end := uint64(pageHead + count*pageItem) // keys and values stand one behind the other
	key := func(i int) ([]byte, []byte, error) {
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
			return nil, nil, fmt.Errorf("page %d: item %d lies outside", id, i)
		}
		return raw[start : start+keySize], raw[start+keySize : start+keySize+valueSize], nil
	}
	for i := range count {
		item := raw[pageHead+i*pageItem:]
		k, value, err := key(i)
		if err != nil {
			return err
		}
		if i > 0 && bytes.Compare(last, k) >= 0 || i == 0 && from != nil && bytes.Compare(k, from) < 0 || until != nil && bytes.Compare(k, until) >= 0 {
			return fmt.Errorf("page %d: item %d is out of order", id, i)
		}
		begin := uint64(cap(raw) - cap(k))
		if begin != end {
			return fmt.Errorf("page %d: item %d does not begin where the one before it ends", id, i)
		}
		last, end = k, begin+uint64(len(k)+len(value))
		switch {
		case flags == branchPage:
			next := until
			if i+1 < count {
				if next, _, err = key(i + 1); err != nil {
					return err
				}
			}
			if err := p.walk(le.Uint64(item[8:]), depth+1, k, next); err != nil {
				return err
			}
		case le.Uint32(item)&bucketLeaf != 0:
			if err := p.bucket(id, value, depth); err != nil {
				return fmt.Errorf("bucket %q: %w", k, err)
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
		return p.walk(root, depth+1, nil, nil)
	}
	inside := value[head:]
	if len(inside) < pageHead || le.Uint16(inside[8:]) != leafPage {
		return fmt.Errorf("page %d: a small bucket without its leaf", id)
	}
	return p.items(id, inside, leafPage, int(le.Uint16(inside[10:])), depth+1, nil, nil)
}
