package daemon

import (
	"bytes"
	"context"
	"crypto/rand"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
)

// signing is a notary over a new ledger in a folder of its own.
func signing(t *testing.T) (n *notary, f folder, log *bytes.Buffer) {
	t.Helper()
	f = folder{t.TempDir()}
	l, err := store.Open(f.path(fileLedger), store.Options{Origin: storetest.Origin})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, l.Close()) })
	s, fresh, err := openSigner(f, l.Origin())
	require.NoError(t, err)
	require.True(t, fresh)
	log = &bytes.Buffer{}
	n, err = newNotary(l, s, &witness{f.path(fileWitness)}, slog.New(slog.NewTextHandler(log, nil)), nil)
	require.NoError(t, err)
	return n, f, log
}

// record puts some events of a life into the ledger.
func (n *notary) record(t *testing.T, from, until int) {
	t.Helper()
	list := storetest.Life(21, 4)
	storetest.Record(t, n.ledger, list[len(list)-1].At.Add(time.Hour), list[from:until]...)
}

func TestACheckpointIsMadeWhenSomethingIsNewAndNotOtherwise(t *testing.T) {
	n, f, _ := signing(t)
	made, err := n.make(t.Context())
	require.NoError(t, err)
	require.Zero(t, made, "nothing is recorded")
	n.record(t, 0, 10)
	for range 3 {
		_, err = n.make(t.Context())
		require.NoError(t, err)
	}
	n.record(t, 10, 25)
	_, err = n.make(t.Context())
	require.NoError(t, err)
	kept, err := n.ledger.Checkpoints(1, 0)
	require.NoError(t, err)
	require.Len(t, kept, 2)
	require.EqualValues(t, 10, kept[0].Size)
	require.EqualValues(t, 25, kept[1].Size)
	for _, c := range kept {
		_, err := evidence.OpenCheckpoint(c.Note, n.signer.Key())
		require.NoError(t, err)
	}
	found, err := n.witness.read(mostWitness)
	require.NoError(t, err)
	require.Len(t, found.kept, 2, "and in the file beside the ledger")
	require.NoError(t, inspectEvidence(n.ledger, found, n.signer.Key()))
	for _, name := range []string{fileSigning, fileWitness} {
		info, err := os.Stat(f.path(name))
		require.NoError(t, err)
		require.Equal(t, os.FileMode(0o600), info.Mode().Perm(), name)
	}
	again, fresh, err := openSigner(f, n.ledger.Origin())
	require.NoError(t, err)
	require.False(t, fresh)
	require.Equal(t, n.signer.Key(), again.Key())
}

// At the start for what the last run left, and an hour after something new; while nothing is recorded it does not wake.
func TestCheckpointsAreMadeByTheHour(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n, _, _ := signing(t)
		size := func() uint64 { return n.latest()[n.ledger.Origin()].Size }
		n.record(t, 0, 3)
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan struct{})
		go func() {
			defer close(done)
			n.keep(ctx, time.Hour)
		}()
		synctest.Wait()
		require.EqualValues(t, 3, size(), "at the start")
		<-time.After(30 * time.Minute)
		n.record(t, 3, 5)
		<-time.After(29 * time.Minute)
		n.record(t, 5, 6)
		require.EqualValues(t, 3, size())
		<-time.After(2 * time.Minute)
		synctest.Wait()
		require.EqualValues(t, 6, size(), "an hour after the last one, all that is new by then")
		<-time.After(100 * time.Hour)
		n.record(t, 6, 7)
		<-time.After(time.Hour)
		synctest.Wait()
		require.EqualValues(t, 7, size(), "an hour after something new")
		list, err := n.ledger.Checkpoints(1, 0)
		require.NoError(t, err)
		require.Len(t, list, 3)
		cancel()
		<-done
	})
}

func TestADamagedLedgerIsNotVouchedForAndTheDaemonStops(t *testing.T) {
	n, _, _ := signing(t)
	var told []error
	n.broken = func(err error) { told = append(told, err) }
	n.record(t, 0, 10)
	_, err := n.make(t.Context())
	require.NoError(t, err)
	kept := n.last[n.ledger.Origin()]
	kept.Root[3] ^= 1 // as if the tree had changed below what was signed
	n.last[n.ledger.Origin()] = kept
	n.record(t, 10, 12)
	for range 2 {
		_, err = n.make(t.Context())
		require.ErrorIs(t, err, store.ErrDamaged)
	}
	require.Len(t, told, 1)
	require.ErrorIs(t, told[0], ErrEvidence)
	list, err := n.ledger.Checkpoints(1, 0)
	require.NoError(t, err)
	require.Len(t, list, 1)
}

func TestTheFileOfCheckpointsIsMadeGood(t *testing.T) {
	n, f, _ := signing(t)
	for i := range 4 {
		n.record(t, i*5, i*5+5)
		_, err := n.make(t.Context())
		require.NoError(t, err)
	}
	whole, err := os.ReadFile(f.path(fileWitness))
	require.NoError(t, err)
	lines := bytes.SplitAfter(whole, []byte("\n"))
	for name, text := range map[string][]byte{
		"gone":               nil,
		"cut off in a line":  whole[:len(whole)-20],
		"without the last":   bytes.Join(lines[:3], nil),
		"a line unreadable":  bytes.Join([][]byte{lines[0], []byte("{\"position\":2}\n"), lines[2], lines[3]}, nil),
		"as it was":          whole,
		"torn after a crash": append(bytes.Clone(whole), `{"position":9,"ma`...),
		// The end of what was written last is on disk, and a part before it is not.
		"a gap left by a power cut": slices.Concat(whole[:len(whole)-300], make([]byte, 100), whole[len(whole)-200:]),
	} {
		t.Run(name, func(t *testing.T) {
			require.NoError(t, os.WriteFile(f.path(fileWitness), text, 0o600))
			found, err := n.witness.read(mostWitness)
			require.NoError(t, err)
			require.NoError(t, inspectEvidence(n.ledger, found, n.signer.Key()))
			require.NoError(t, n.witness.mend(n.ledger, found))
			after, err := n.witness.read(mostWitness)
			require.NoError(t, err)
			require.EqualValues(t, 4, after.last)
			require.False(t, after.torn)
			if name == "a line unreadable" {
				require.Equal(t, 1, after.bad, "left as it is, and told")
				return
			}
			mended, err := os.ReadFile(f.path(fileWitness))
			require.NoError(t, err)
			require.Equal(t, string(whole), string(mended))
		})
	}
}

func TestSigningKeysThatCannotBeUsed(t *testing.T) {
	for name, row := range map[string]struct {
		text string
		mode os.FileMode
		says string
	}{
		"readable by others": {"", 0o640, "others can read"},
		"empty":              {"# a comment alone\n", 0o600, "is empty"},
		"not a key":          {"PRIVATE+KEY+pottrail/x+00000000+AAAA\n", 0o600, "the secret key is malformed"},
	} {
		t.Run(name, func(t *testing.T) {
			f := folder{t.TempDir()}
			require.NoError(t, os.WriteFile(f.path(fileSigning), []byte(row.text), row.mode))
			_, _, err := openSigner(f, "x")
			require.ErrorIs(t, err, ErrSigningKey)
			require.ErrorContains(t, err, row.says)
			require.NotContains(t, err.Error(), "AAAA")
			require.NotEmpty(t, Hint(err))
		})
	}
}

// A daemon whose ledger was changed behind its back does not start; one whose key is gone does, and says so.
func TestWhatADaemonFindsAtItsStart(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "clinic")
	begin := func(log *bytes.Buffer) (*running, error) {
		o := config.Options{Folder: config.Folder{Dir: dir}}
		d := &running{o: Options{Options: o, Log: slog.New(slog.NewTextHandler(log, nil))}, broken: make(chan error, 1)}
		for _, step := range []func() error{d.openStores, d.openEvidence} {
			if err := step(); err != nil {
				d.stop()
				return nil, err
			}
		}
		return d, nil
	}
	log := &bytes.Buffer{}
	d, err := begin(log)
	require.NoError(t, err)
	d.service.notary.record(t, 0, 20)
	key := d.service.notary.signer.Key()
	d.stop()
	require.Contains(t, log.String(), "msg=checkpoint", "one at the end")

	require.NoError(t, os.Remove(filepath.Join(dir, fileSigning)))
	log.Reset()
	d, err = begin(log)
	require.NoError(t, err, "recording does not wait for a key")
	require.Contains(t, log.String(), "the key that signed checkpoints before is gone")
	require.NotEqual(t, key, d.service.notary.signer.Key())
	answer, err := d.service.Proof(t.Context(), ask.Request{Name: "MBY-26-00001"})
	require.NoError(t, err)
	require.Nil(t, evidence.Verify(&answer.Proof, evidence.Against{Keys: []string{d.service.notary.signer.Key()}}), "signed again by the new one")
	d.stop()

	// Somebody edits the file of checkpoints: one of them says another root, with the signature it had.
	path := filepath.Join(dir, fileWitness)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	found, err := (&witness{path}).read(mostWitness)
	require.NoError(t, err)
	root := found.kept[0].Note[strings.Index(found.kept[0].Note, "\n20\n")+4:][:43]
	other := "A" + root[1:]
	if other == root {
		other = "B" + root[1:]
	}
	require.NoError(t, os.WriteFile(path, bytes.Replace(text, []byte(root), []byte(other), 1), 0o600))
	_, err = begin(log)
	require.ErrorIs(t, err, ErrEvidence)
	var m *evidence.Mismatch
	require.ErrorAs(t, err, &m)
	require.Contains(t, m.Text, "with another root than they have now")
	require.Contains(t, Hint(err), "nothing is recorded onto it")
	require.NoError(t, os.WriteFile(path, text, 0o600))
	d, err = begin(log)
	require.NoError(t, err)
	d.stop()

	secret, err := evidence.NewKey(rand.Reader, "another-node")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, fileSigning), []byte(secret), 0o600))
	_, err = begin(log)
	require.ErrorIs(t, err, ErrSigningKey)
	require.ErrorContains(t, err, "it is of pottrail/another-node, and the ledger here is of pottrail/")
}

// Over a ledger that can only be read nothing is signed, and that is said.
func TestWithoutANotaryNothingIsSigned(t *testing.T) {
	var none *notary
	none.end()
	require.Empty(t, none.key())
	_, _, ok := none.short()
	require.False(t, ok)
	s := &Service{}
	_, err := s.Proof(t.Context(), ask.Request{Name: "MBY-26-00001"})
	require.ErrorIs(t, err, errNothingSigned)
	_, err = s.Checkpoint(t.Context(), ask.CheckpointRequest{Make: true})
	require.ErrorIs(t, err, errNothingSigned)
}

// A line of the file is read or not; nothing in it makes reading fail.
func FuzzReadWitness(f *testing.F) {
	f.Add([]byte(`{"position":1,"made":"2026-03-06T18:00:00Z","note":"pottrail/x\n0\n47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=\n\n— x AAAAAAA=\n"}` + "\n"))
	f.Add([]byte("{}\n"))
	f.Fuzz(func(t *testing.T, line []byte) {
		kept, position, ok := readWitness(line)
		if ok {
			require.Positive(t, position)
			_, err := evidence.ReadCheckpoint(kept.Note)
			require.NoError(t, err)
		}
	})
}
