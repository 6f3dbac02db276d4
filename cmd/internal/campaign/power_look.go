package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"strconv"
	"strings"

	"github.com/go-json-experiment/json"
	"golang.org/x/mod/sumdb/tlog"

	"github.com/pottrail/pottrail/cmd/internal/daemon"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/store/prints"
	"github.com/pottrail/pottrail/store/storetest"
)

// sight is what is found in a folder after a power cut.
type sight struct {
	Values map[string]string `json:"values"`
	Fault  string            `json:"fault"` // it does not open, does not fit together, or does not go on
}

// question is asked of a child that looks.
type question struct {
	Folder string `json:"folder"`
	Seed   uint64 `json:"seed"`
	Work   int    `json:"work"`  // of the run
	Whole  bool   `json:"whole"` // all of the ledger is recomputed
}

// look opens folder after folder as it is asked, and tells what is in them: as a child, since a damaged file can end its reader.
func look(in io.Reader, out io.Writer) error {
	lines := bufio.NewReader(in)
	for {
		line, err := lines.ReadBytes('\n')
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		var q question
		if err := json.Unmarshal(line, &q); err != nil {
			return err
		}
		s := sight{Values: map[string]string{}}
		if err := q.look(s.Values); err != nil {
			s.Fault = err.Error()
		}
		answer, err := json.Marshal(s)
		if err != nil {
			return err
		}
		if _, err := out.Write(append(answer, '\n')); err != nil {
			return err
		}
	}
}

func (q question) look(values map[string]string) (err error) {
	c, err := openClinic(q.Folder)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.close()) }()
	k := newKept()
	if err := k.readOn(c.ledger); err != nil {
		return err
	}
	for id, seq := range k.seqs {
		values["event/"+string(id)] = strconv.FormatUint(seq, 10)
	}
	if k.double > 0 {
		return fmt.Errorf("%d events are there twice", k.double)
	}
	if err := rootRecomputes(c.ledger, k.last); err != nil {
		return err
	}
	if q.Whole {
		if err := c.ledger.Check(); err != nil {
			return err
		}
	}
	if err := lookAtPeople(c.people, values, q.Work); err != nil {
		return err
	}
	jobs, err := c.prints.Jobs(prints.Filter{})
	if err != nil {
		return err
	}
	for _, j := range jobs {
		values["job/"+strconv.FormatUint(j.ID, 10)] = string(j.State)
	}
	if err := c.staff.Check(); err != nil {
		return err
	}
	list, err := c.staff.People()
	if err != nil {
		return err
	}
	for _, person := range list {
		if person.NoPIN {
			return fmt.Errorf("the PIN of %s can no longer be read", person.Key)
		}
		known, err := c.staff.Known(person.Key)
		if err != nil {
			return err
		}
		if known {
			values["staff/"+person.Key] = onTheList
		}
	}
	doubts, _, err := c.staff.Doubts(0)
	if err != nil {
		return err
	}
	values["count/doubts"] = strconv.Itoa(len(doubts))
	key, kept, err := daemon.SignOnce(context.Background(), q.Folder, c.ledger)
	if err != nil {
		return err
	}
	values[signingKey], values[keptCheckpoints] = key, strconv.Itoa(kept)
	return q.goOn(c, k, values)
}

// rootRecomputes makes the root of this node's tree again from the stored bytes, and holds positions to be gapless.
func rootRecomputes(l *store.Ledger, entries uint64) error {
	root, err := l.Root("")
	if err != nil {
		return err
	}
	var hashes tlog.HashReaderFunc
	var stored []tlog.Hash
	hashes = func(indexes []int64) (out []tlog.Hash, err error) {
		for _, i := range indexes {
			out = append(out, stored[i])
		}
		return out, nil
	}
	for n := uint64(0); n < entries; {
		page, err := l.ByOrigin("", n+1, 0)
		if err != nil {
			return err
		}
		if len(page) == 0 {
			return fmt.Errorf("the origin's entry %d is missing", n+1)
		}
		for _, entry := range page {
			if entry.OSeq != n+1 {
				return fmt.Errorf("the origin's entry %d is missing", n+1)
			}
			more, err := tlog.StoredHashes(int64(n), entry.Leaf, hashes)
			if err != nil {
				return err
			}
			stored, n = append(stored, more...), n+1
		}
	}
	again, err := tlog.TreeHash(int64(entries), hashes)
	if err == nil && (root.Size != entries || tlog.Hash(root.Root) != again) {
		err = fmt.Errorf("the root of %d entries is not that of what is stored", root.Size)
	}
	return err
}

func lookAtPeople(f *people.File, values map[string]string, work int) error {
	for n := range work/3 + 1 {
		p, ok, err := f.Get(refOf(n))
		if err != nil && !errors.Is(err, people.ErrForgotten) {
			return err
		}
		_, gone, err := f.Forgotten(refOf(n))
		switch {
		case err != nil:
			return err
		case gone:
			values["person/"+strconv.Itoa(n)] = forgotten
		case ok:
			values["person/"+strconv.Itoa(n)] = p.Family
		}
	}
	reads, _, err := f.Reads("", 0)
	values["count/reads"] = strconv.Itoa(len(reads))
	return err
}

// goOn takes a serial, and records the first event that is not there as if its sender had heard nothing, twice: there must be one.
func (q question) goOn(c *clinic, k *kept, values map[string]string) error {
	first, err := c.ledger.TakeSerials("HCX", 27, 1)
	if err != nil {
		return err
	}
	values["count/serial"] = strconv.Itoa(first - 1)
	for _, e := range powerEvents(q.Seed, q.Work) {
		if k.seqs[e.ID] != 0 {
			continue
		}
		for range 2 {
			verdicts, err := c.ledger.Record(e.At, storetest.Intakes(e))
			if err != nil {
				return err
			}
			if v := verdicts[0]; !v.OK || v.Seq != k.last+1 {
				return fmt.Errorf("sent again it is %+v, after %d entries", v, k.last)
			}
		}
		return rootRecomputes(c.ledger, k.last+1)
	}
	return nil
}

// looker is a child that looks at folders, started anew when one has ended it.
type looker struct {
	ctx   context.Context
	o     options
	cmd   *exec.Cmd
	in    io.WriteCloser
	out   *bufio.Reader
	cries bytes.Buffer
	ended int // how often it came to an end
}

func (l *looker) look(q question) (s sight, err error) {
	if l.cmd == nil {
		args := l.o.self(modeLook)
		l.cries.Reset()
		l.cmd = exec.CommandContext(l.ctx, args[0], args[1:]...)
		l.cmd.Stderr = &l.cries
		if l.in, err = l.cmd.StdinPipe(); err != nil {
			return s, err
		}
		out, err := l.cmd.StdoutPipe()
		if err != nil {
			return s, err
		}
		l.out = bufio.NewReaderSize(out, 1<<20)
		if err := l.cmd.Start(); err != nil {
			return s, err
		}
	}
	line, err := json.Marshal(q)
	if err != nil {
		return s, err
	}
	_, err = l.in.Write(append(line, '\n'))
	var answer []byte
	if err == nil {
		answer, err = l.out.ReadBytes('\n')
	}
	if err != nil {
		if l.ctx.Err() != nil {
			return s, l.ctx.Err()
		}
		l.close()
		l.ended++
		head, _, _ := strings.Cut(l.cries.String(), "\n\n")
		return sight{Fault: "the reader came to an end: " + head}, nil
	}
	return s, json.Unmarshal(answer, &s)
}

// close ends the child.
func (l *looker) close() {
	if l.cmd != nil {
		_ = l.in.Close()
		_ = l.cmd.Wait() // how it ended does not matter
		l.cmd = nil
	}
}
