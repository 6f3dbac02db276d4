package store_test

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events"
	"github.com/pottrail/pottrail/store"
	"github.com/pottrail/pottrail/store/storetest"
	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

func adoption(id tracker.EventID, at time.Time, clinic, text string) *tracker.Event {
	sum := sha256.Sum256([]byte(text))
	return &tracker.Event{ID: id, Kind: tracker.KindProtocolAdopted, Clinic: clinic, At: at, By: "lead.moor", Station: "desk",
		Data: &tracker.ProtocolAdopted{SHA256: hex.EncodeToString(sum[:]), Text: text}}
}

// stricter is the default protocol with another title.
func stricter(t *testing.T, title string) string {
	t.Helper()
	text := protocol.Default().Text
	changed := strings.Replace(text, "title", "title = \""+title+"\"\n#", 1)
	require.NotEqual(t, text, changed)
	_, err := protocol.Parse([]byte(changed))
	require.NoError(t, err)
	return changed
}

func TestABadProtocolIsNotAdopted(t *testing.T) {
	l := storetest.Open(t, storetest.Path(t), store.Options{})
	for i, text := range []string{"title = 1", "", "zone = \"Europe/London\"\nnonsense", strings.Replace(protocol.Default().Text, "Europe/London", "Europe/Marram", 1)} {
		e := adoption(tracker.EventID("018f0000-0000-7000-8000-00000000000"+string(rune('1'+i))), storetest.Morning(), "MBY", text)
		verdicts, err := l.Record(storetest.Morning(), storetest.Intakes(e))
		require.NoError(t, err)
		require.False(t, verdicts[0].OK)
		require.Equal(t, events.CodeBadProtocol, verdicts[0].Error.Code)
		require.Equal(t, "data.text", verdicts[0].Error.Field)
		require.Contains(t, verdicts[0].Error.Text, "not adopted")
	}
	_, ok := l.Adopted("MBY")
	require.False(t, ok)
	seq, _ := l.Last()
	require.Zero(t, seq)
}

// A protocol holds for its clinic, from the last adoption by when it happened; what is open is judged again in small
// steps.
func TestAdoptingAProtocol(t *testing.T) {
	path := storetest.Path(t)
	l := storetest.Open(t, path, store.Options{})
	list := storetest.Life(61, 30)
	now := list[len(list)-1].At.Add(time.Hour)
	storetest.Record(t, l, now, list...)
	storetest.CatchUp(t, l, now)
	second := stricter(t, "the second")
	storetest.Record(t, l, now, adoption("018f0000-0000-7000-8000-000000000001", now, "MBY", second))
	rules, ok := l.Adopted("MBY")
	require.True(t, ok)
	require.Equal(t, second, rules.Protocol().Text)
	_, ok = l.Adopted("HCX")
	require.False(t, ok)
	at, ok, err := l.Due()
	require.NoError(t, err)
	require.True(t, ok && at.Before(now), "at once")
	steps := 0
	for {
		require.True(t, l.Sweeping(), "whoever tells of flags waits until the end")
		done, err := l.Recheck(now, 2)
		require.NoError(t, err)
		require.LessOrEqual(t, done.Judged, 2)
		steps++
		if at, ok, err := l.Due(); err != nil || !ok || at.After(now) {
			require.NoError(t, err)
			break
		}
		if steps == 2 { // a sweep goes on after the ledger was opened again
			require.NoError(t, l.Check())
			require.NoError(t, l.Close())
			l = storetest.Open(t, path, store.Options{})
		}
	}
	require.Greater(t, steps, 3)
	require.False(t, l.Sweeping())
	mark := rules.Protocol().SHA256[:16]
	for s, err := range l.Snapshots(store.Filter{Open: true}) {
		require.NoError(t, err)
		require.Equal(t, s.Summary.Name.Clinic() == "MBY", s.Protocol == mark, "%s", s.Summary.Name)
	}

	earlier := stricter(t, "one from before, heard of late")
	storetest.Record(t, l, now, adoption("018f0000-0000-7000-8000-000000000002", now.Add(-time.Hour), "MBY", earlier))
	rules, _ = l.Adopted("MBY")
	require.Equal(t, second, rules.Protocol().Text)
	require.NoError(t, l.Check())
	require.NoError(t, l.Close())
	l = storetest.Open(t, path, store.Options{})
	rules, ok = l.Adopted("MBY")
	require.True(t, ok)
	require.Equal(t, second, rules.Protocol().Text, "after opening again")
}

// After an upgrade of the fold nothing is lost: what is asked for is judged anew, what is open is written anew.
func TestSnapshotsOfAnEarlierFold(t *testing.T) {
	path := storetest.Path(t)
	l := storetest.Open(t, path, store.Options{})
	list := storetest.Life(62, 12)
	now := list[len(list)-1].At.Add(time.Hour)
	storetest.Record(t, l, now, list...)
	storetest.CatchUp(t, l, now)
	want := judgements(t, l)
	flags, err := l.OpenFlags()
	require.NoError(t, err)
	require.NoError(t, l.Close())
	require.NoError(t, store.AgeSnapshots(path))

	l = storetest.Open(t, path, store.Options{})
	require.Equal(t, want, judgements(t, l), "read")
	got, err := l.OpenFlags()
	require.NoError(t, err)
	require.Equal(t, len(flags), len(got))
	storetest.Record(t, l, now, storetest.Life(63, 1)[0])
	storetest.CatchUp(t, l, now)
	require.NoError(t, l.Check())
	require.NoError(t, l.Close())
	l = storetest.Open(t, path, store.Options{})
	at, ok, err := l.Due()
	require.NoError(t, err)
	require.True(t, !ok || at.After(now), "once is enough")
}

// A clock that was ahead for a while leaves nothing behind when it is put right.
func TestAClockPutBack(t *testing.T) {
	l := storetest.Open(t, storetest.Path(t), store.Options{})
	list := storetest.Life(64, 10)
	now := list[len(list)-1].At
	storetest.Record(t, l, now, list...)
	storetest.CatchUp(t, l, now)
	want := judgements(t, l)
	storetest.CatchUp(t, l, now.Add(60*24*time.Hour))
	require.NotEqual(t, want, judgements(t, l))
	storetest.CatchUp(t, l, now)
	require.Equal(t, want, judgements(t, l))
}

// A release that cannot use a protocol that a clinic adopted says whose, which entry and why, changes nothing, and judges
// nothing by other rules in silence. Opened for mending it shows the text and takes another.
func TestAnAdoptedProtocolThatCannotBeUsed(t *testing.T) {
	path := storetest.Path(t)
	marram := func(name string) (*time.Location, error) {
		if name == "Marram/Bay" {
			return time.UTC, nil
		}
		return time.LoadLocation(name)
	}
	l := storetest.Open(t, path, store.Options{Zones: marram})
	now := storetest.Morning()
	text := strings.Replace(protocol.Default().Text, "Europe/London", "Marram/Bay", 1)
	storetest.Record(t, l, now, adoption("018f0000-0000-7000-8000-000000000001", now, "MBY", text))
	a, ok := l.Adoption("MBY")
	require.True(t, ok)
	require.Equal(t, store.Adoption{Seq: 1, At: a.At, By: "lead.moor", SHA256: a.SHA256, Text: text}, a)
	require.True(t, a.At.Equal(now))
	require.NoError(t, l.Close())

	before, err := os.ReadFile(path)
	require.NoError(t, err)
	_, err = store.Open(path, store.Options{})
	require.ErrorIs(t, err, store.ErrProtocol)
	for _, words := range []string{"MBY", "entry 1", "2026-03-02T08:00:00Z", "lead.moor", "zone", "Marram/Bay"} {
		require.Contains(t, err.Error(), words)
	}
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, before, after, "nothing was changed")

	l = storetest.Open(t, path, store.Options{Mend: true})
	a, ok = l.Adoption("MBY")
	require.True(t, ok)
	require.Equal(t, text, a.Text)
	require.ErrorContains(t, a.Fault, "Marram/Bay")
	rules, _ := l.Adopted("MBY")
	require.Equal(t, protocol.Default().SHA256, rules.Protocol().SHA256, "meanwhile the default")
	_, ok = l.Adoption("HCX")
	require.False(t, ok)
	mended := stricter(t, "mended")
	storetest.Record(t, l, now, adoption("018f0000-0000-7000-8000-000000000002", now.Add(time.Minute), "MBY", mended))
	require.NoError(t, l.Close())

	l = storetest.Open(t, path, store.Options{})
	a, ok = l.Adoption("MBY")
	require.True(t, ok)
	require.NoError(t, a.Fault)
	require.Equal(t, mended, a.Text)
	require.Equal(t, uint64(2), a.Seq)
	require.NoError(t, l.Check())
}

// A ledger of a release that knew no days of rooms is filed anew when it is opened: nothing about them is missed.
func TestALedgerOfAnEarlierReleaseIsFiledAnew(t *testing.T) {
	path := storetest.Path(t)
	l := storetest.Open(t, path, store.Options{})
	list := storetest.Life(7, 40)
	now := list[len(list)-1].At.Add(time.Hour)
	storetest.Record(t, l, now, list...)
	storetest.CatchUp(t, l, now)
	flags := func() (shared int) {
		open, err := l.OpenFlags()
		require.NoError(t, err)
		for _, f := range open {
			if f.Kind == tracker.FlagRoomShared {
				shared++
			}
		}
		return shared
	}
	before := flags()
	require.Positive(t, before)
	require.NoError(t, l.Close())
	require.NoError(t, store.Unfile(path))
	l = storetest.Open(t, path, store.Options{})
	storetest.CatchUp(t, l, now)
	require.Equal(t, before, flags())
	require.NoError(t, l.Check())
}
