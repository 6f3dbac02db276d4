package evidence_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/events/evidence"
	"github.com/pottrail/pottrail/store/storetest"
)

// copied is a proof that may be spoilt.
func copied(t require.TestingT, p *evidence.Proof) *evidence.Proof {
	again, err := evidence.Parse(evidence.Format(p))
	require.NoError(t, err)
	return again
}

func TestAProofHoldsAndEachDamageHasItsSentence(t *testing.T) {
	b := someBook(7, 6)
	s, stranger := signer(t, home, 1), signer(t, home, 2)
	name, other := theCase(t, b)
	const before = 10
	good := b.prove(t, s, name, before)
	foreign := b.prove(t, s, other, 0)
	require.Nil(t, evidence.Verify(good, evidence.Against{}))
	require.Nil(t, evidence.Verify(good, evidence.Against{Keys: []string{s.Key()}, Older: b.checkpoint(t, s, home, before).Note}))
	require.Nil(t, evidence.Verify(good, evidence.Against{Paper: b.checkpoint(t, s, home, before).Short()}))
	require.Nil(t, evidence.Verify(good, evidence.Against{Older: good.Checkpoints[0].Note}), "the very checkpoint")

	rewritten := newBook()
	for i, leaf := range b.leaves[home] {
		if i == 3 {
			leaf = []byte(strings.Replace(string(leaf), "room-", "roof-", 1))
		}
		rewritten.add(home, leaf)
	}
	own := slices.IndexFunc(foreign.Events, func(e evidence.Inclusion) bool {
		return !slices.ContainsFunc(good.Events, func(g evidence.Inclusion) bool { return g.Origin == e.Origin && g.Index == e.Index })
	})
	total := len(good.Events)
	rows := []struct {
		name    string
		spoil   func(p *evidence.Proof)
		against evidence.Against
		code    evidence.Code
		event   int
		says    string
	}{
		{name: "a changed leaf", code: evidence.CodeChanged, event: 3, says: "is not what was recorded: something in it was changed",
			spoil: func(p *evidence.Proof) {
				p.Events[2].Leaf = strings.Replace(p.Events[2].Leaf, "nurse.osei", "nurse.osey", 1)
			}},
		{name: "a missing event in the middle", code: evidence.CodeMissing, event: 3, says: "It was left out of the file",
			spoil: func(p *evidence.Proof) { p.Events = slices.Delete(p.Events, 2, 3) }},
		{name: "a missing event at the end", code: evidence.CodeMissing, event: total, says: "It was left out of the file",
			spoil: func(p *evidence.Proof) { p.Events = p.Events[:total-1] }},
		{name: "a swapped path", code: evidence.CodePath, event: 1, says: "The path of event 1 of",
			spoil: func(p *evidence.Proof) {
				p.Events[0].Path, p.Events[1].Path = p.Events[1].Path, p.Events[0].Path
			}},
		{name: "a path with a hash changed", code: evidence.CodePath, event: 2, says: "does not lead to the root",
			spoil: func(p *evidence.Proof) { p.Events[1].Path[0][5] ^= 1 }},
		{name: "another case's event, in the place of one", code: evidence.CodeForeign, event: 3, says: "and not about " + string(name),
			spoil: func(p *evidence.Proof) { p.Events[2] = foreign.Events[own] }},
		{name: "another case's event put in", code: evidence.CodeForeign, event: 3, says: "it belongs to something else",
			spoil: func(p *evidence.Proof) { p.Events = slices.Insert(p.Events, 2, foreign.Events[own]) }},
		{name: "an event twice", code: evidence.CodeOrder, event: 2, says: "and so is event 1",
			spoil: func(p *evidence.Proof) { p.Events = slices.Insert(p.Events, 1, p.Events[0]) }},
		{name: "two events in another order", code: evidence.CodeOrder, event: 1, says: "in another order",
			spoil: func(p *evidence.Proof) { p.Events[0], p.Events[1] = p.Events[1], p.Events[0] }},
		{name: "an older checkpoint, from before an event", code: evidence.CodeTooOld, says: "it is older than the event",
			spoil: func(p *evidence.Proof) { p.Checkpoints[0] = b.checkpoint(t, s, home, 2); p.Older = nil }},
		{name: "a wrong key", code: evidence.CodeOtherKey, against: evidence.Against{Keys: []string{stranger.Key()}},
			says: "and not by the key that was given, " + evidence.KeyName(stranger.Key())},
		{name: "a key that is none", code: evidence.CodeKey, against: evidence.Against{Keys: []string{"hello"}}, says: "A key cannot be read"},
		{name: "a checkpoint that was changed", code: evidence.CodeCheckpoint, says: "was changed after it was signed",
			spoil: func(p *evidence.Proof) {
				c, err := evidence.ReadCheckpoint(strings.Replace(p.Checkpoints[0].Note, "\n", "\n1", 1))
				require.NoError(t, err)
				p.Checkpoints[0] = c
			}},
		{name: "no checkpoint of a node", code: evidence.CodeCheckpoint, says: "is missing, and events of that node are listed",
			spoil: func(p *evidence.Proof) { p.Checkpoints = p.Checkpoints[:1] }},
		{name: "a checkpoint twice", code: evidence.CodeCheckpoint, says: "two checkpoints",
			spoil: func(p *evidence.Proof) { p.Checkpoints = append(p.Checkpoints, p.Checkpoints[0]) }},
		{name: "a statement that was changed", code: evidence.CodeStatement, says: "was changed after it was signed",
			spoil: func(p *evidence.Proof) { p.Statement = strings.Replace(p.Statement, string(name), string(other), 1) }},
		{name: "no statement", code: evidence.CodeStatement, says: "is missing", spoil: func(p *evidence.Proof) { p.Statement = "" }},
		{name: "a checkpoint as a statement", code: evidence.CodeStatement, says: "something else was put in its place",
			spoil: func(p *evidence.Proof) { p.Statement = p.Checkpoints[0].Note }},
		{name: "another case's statement", code: evidence.CodeName, says: "the signed statement in it is about " + string(other),
			spoil: func(p *evidence.Proof) { p.Statement = foreign.Statement }},
		{name: "another name", code: evidence.CodeName, says: "it is about " + string(other), spoil: func(p *evidence.Proof) { p.Name = other }},
		{name: "a way back that was changed", code: evidence.CodeOlder, says: "is not the beginning of the record",
			spoil: func(p *evidence.Proof) { p.Older.Path[0][0] ^= 1 }},
		{name: "an older checkpoint of another record", code: evidence.CodeOlder, says: "of another record",
			against: evidence.Against{Older: rewritten.checkpoint(t, s, home, before).Note}},
		{name: "an older checkpoint of more entries", code: evidence.CodeOlder, says: "the record went backwards",
			against: evidence.Against{Older: rewrittenLonger(t, b, s)}},
		{name: "an older checkpoint that nothing leads to", code: evidence.CodeOlderNoProof, says: "pottrail prove " + string(name) + " --older FILE",
			against: evidence.Against{Older: b.checkpoint(t, s, home, 4).Note}},
		{name: "an older checkpoint of a stranger", code: evidence.CodeOlderSignature, says: "The older checkpoint is signed by",
			against: evidence.Against{Older: b.checkpoint(t, stranger, home, before).Note}},
		{name: "an older checkpoint that was changed", code: evidence.CodeOlderSignature, says: "was changed after it was signed",
			against: evidence.Against{Older: strings.Replace(b.checkpoint(t, s, home, before).Note, "\n1", "\n2", 1)}},
		{name: "a checkpoint from paper, of another record", code: evidence.CodeOlder, says: "of another record",
			against: evidence.Against{Paper: rewritten.checkpoint(t, s, home, before).Short()}},
		{name: "a checkpoint from paper that nothing leads to", code: evidence.CodeOlderNoProof, against: evidence.Against{Paper: b.checkpoint(t, s, home, 4).Short()}},
	}
	said := map[string]evidence.Code{}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			p := copied(t, good)
			if row.spoil != nil {
				row.spoil(p)
			}
			f := evidence.Verify(p, row.against)
			require.NotNil(t, f)
			require.Equal(t, row.code, f.Code, f.Text)
			require.Contains(t, f.Text, row.says)
			if row.event > 0 {
				require.Equal(t, row.event, f.Event, f.Text)
			}
			require.True(t, strings.HasSuffix(f.Text, "."), f.Text)
			if before, ok := said[f.Text]; ok {
				require.Equal(t, before, f.Code, "two kinds of damage say the same")
			}
			said[f.Text] = f.Code
		})
	}
}

func rewrittenLonger(t *testing.T, b *book, s *evidence.Signer) string {
	longer := newBook()
	for _, leaf := range b.leaves[home] {
		longer.add(home, leaf)
	}
	longer.add(home, []byte("{}"))
	return longer.checkpoint(t, s, home, uint64(len(longer.leaves[home]))).Note
}

// Over random records: each case's proof holds, and under no other key and no other root.
func TestEveryProofOfRandomRecordsHoldsAndNowhereElse(t *testing.T) {
	s, stranger := signer(t, home, 1), signer(t, home, 2)
	rapid.Check(t, func(t *rapid.T) {
		b := someBook(rapid.Uint64().Draw(t, "seed"), rapid.IntRange(1, 4).Draw(t, "cases"))
		for _, name := range b.cases() {
			p := b.prove(t, s, name, 0)
			require.Nil(t, evidence.Verify(p, evidence.Against{Keys: []string{s.Key()}}))
			require.NotNil(t, evidence.Verify(p, evidence.Against{Keys: []string{stranger.Key()}}))
			root := evidence.Hash{1}
			c, err := s.Checkpoint(evidence.Checkpoint{Origin: p.Checkpoints[0].Origin, Size: p.Checkpoints[0].Size, Root: root})
			require.NoError(t, err)
			p.Checkpoints[0] = c
			f := evidence.Verify(p, evidence.Against{})
			require.NotNil(t, f)
			require.Equal(t, evidence.CodePath, f.Code)
		}
	})
}

// A byte changed anywhere: the file cannot be read, or does not hold, or says the very same.
func TestLawAChangedByteIsNoticedOrChangesNothing(t *testing.T) {
	b := newBook()
	for i, e := range storetest.Life(7, 3)[:18] {
		b.record([]string{home, home, away}[i%3], e)
	}
	s := signer(t, home, 1)
	name := b.cases()[0]
	whole := b.prove(t, s, name, 5)
	require.Greater(t, len(whole.Events), 3)
	good := evidence.Format(whole)
	against := evidence.Against{Keys: []string{s.Key()}}
	meaning, err := evidence.Parse(good)
	require.NoError(t, err)
	try := func(t require.TestingT, at int, to byte) bool {
		spoilt := slices.Clone(good)
		spoilt[at] = to
		p, err := evidence.Parse(spoilt)
		if err != nil {
			require.ErrorIs(t, err, evidence.ErrUnreadable)
			return true
		}
		if evidence.Verify(p, against) != nil {
			return true
		}
		// What is signed and what is proved is the same; only the key that nobody trusts, or a signature's spelling, may differ.
		require.Equal(t, meaning.Name, p.Name)
		require.Equal(t, meaning.Events, p.Events)
		require.Equal(t, meaning.Older, p.Older)
		require.Equal(t, meaning.State(), p.State())
		for i := range p.Checkpoints {
			require.Equal(t, meaning.Checkpoints[i].Checkpoint, p.Checkpoints[i].Checkpoint)
		}
		return to == good[at]
	}
	unnoticed := 0
	for at := range good { // each byte once, its lowest bit
		if !try(t, at, good[at]^1) {
			unnoticed++
		}
	}
	require.LessOrEqual(t, unnoticed, len(meaning.Key)+4*(1+len(meaning.Checkpoints)), "the untrusted key and the spelling of signatures")
	rapid.Check(t, func(t *rapid.T) {
		try(t, rapid.IntRange(0, len(good)-1).Draw(t, "at"), rapid.Byte().Draw(t, "to"))
	})
}

func TestWhatIsNoProofFileIsToldByItsLine(t *testing.T) {
	b := someBook(7, 3)
	name := b.cases()[0]
	good := string(evidence.Format(b.prove(t, signer(t, home, 1), name, 0)))
	for text, want := range map[string]string{
		"":                       "line 1",
		"hello\n":                "line 1",
		strings.ToUpper(good):    "line 1",
		good[:len(good)/2]:       "line",
		good[:len(good)-1]:       "line",
		good + "\n":              "line",
		good + "\nletter\nend\n": "a block begins with",
		strings.Replace(good, "\nindex ", "\nindex 0", 1):              "it is not written as",
		strings.Replace(good, "\nhash ", "\nhash !", 1):                "a hash is expected",
		strings.ReplaceAll(good, "\n", "\r\n"):                         "line 1",
		strings.Replace(good, "\ncheckpoint\n", "\ncheckpoint\n\n", 1): "no checkpoint can be read",
	} {
		_, err := evidence.Parse([]byte(text))
		require.ErrorIs(t, err, evidence.ErrUnreadable)
		require.ErrorContains(t, err, want)
	}
}
