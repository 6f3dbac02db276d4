package daemon

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nkeys"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/events/broker"
	"github.com/pottrail/pottrail/tracker"
)

// permitted is written by hand: for each subject the roles whose clients, let in for MBY alone, may send to it, and those who
// may read it. o operator, c clinician, p porter, l laboratory, d coordinator, q quality, a administrator.
const permitted = `
trail.v1.MBY.record                  ocpldqa  -
trail.v1.MBY.ask.case                ocpldq   -
trail.v1.MBY.ask.pot                 ocldq    -
trail.v1.MBY.ask.flags               ocpldqa  -
trail.v1.MBY.ask.chase               ocd      -
trail.v1.MBY.ask.codes               ocpldqa  -
trail.v1.MBY.ask.proof               cldq     -
trail.v1.MBY.ask.events              cdq      -
trail.v1.MBY.event.>                 -        cdq
trail.v1.MBY.event.note.added        -        cdq
trail.v1.MBY.event.result.issued     -        cdq
trail.v1.MBY.flag.>                  -        ocldq
trail.v1.MBY.flag.*                  -        ocldq
trail.v1.MBY.flag.pot-lost           -        ocpldq
trail.v1.MBY.flag.bag-short          -        ocpldq
trail.v1.MBY.flag.clock-doubtful     -        ocldqa
trail.v1.MBY.flag.fixation-long      -        ocldq
trail.v1.MBY.flag.result-unread      -        ocldq
trail.v1.MBY.checkpoint.*            -        ocpldqa
trail.v1.MBY.checkpoint.node         -        ocpldqa
trail.v1.MBY.checkpoint.>            -        ocpldqa
_INBOX.>                             -        ocpldqa
_INBOX.x.y                           -        ocpldqa

trail.v1.MBY.ask.other               -        -
trail.v1.MBY.ask                     -        -
trail.v1.MBY.record.x                -        -
trail.v1.MBY.>                       -        -
trail.v1.MBY.*                       -        -
trail.v1.HCX.record                  -        -
trail.v1.HCX.ask.case                -        -
trail.v1.HCX.ask.codes               -        -
trail.v1.HCX.ask.events              -        -
trail.v1.HCX.event.>                 -        -
trail.v1.HCX.event.note.added        -        -
trail.v1.HCX.flag.>                  -        -
trail.v1.HCX.flag.*                  -        -
trail.v1.HCX.flag.pot-lost           -        -
trail.v1.HCX.checkpoint.*            -        -
trail.v1.*.record                    -        -
trail.v1.*.event.>                   -        -
trail.v1.*.flag.>                    -        -
trail.v1.*.flag.pot-lost             -        -
trail.v1.*.checkpoint.*              -        -
trail.v1.*.ask.*                     -        -
trail.>                              -        -
>                                    -        -
*                                    -        -
account.>                            -        -
account.laboratory.it.trail.v1.MBY.record  -  -
account.administrator.administrator-1.trail.v1.MBY.record  -  -
_INSIDE.>                            -        -
_INSIDE.x.y                          -        -
_R_.>                                -        -
_R_.x                                -        -
$JS.API.>                            -        -
$JS.API.INFO                         -        -
$JS.API.STREAM.NAMES                 -        -
$JS.API.STREAM.INFO.TRAIL            -        -
$JS.API.STREAM.MSG.GET.TRAIL         -        -
$JS.API.DIRECT.GET.TRAIL             -        -
$JS.API.CONSUMER.CREATE.TRAIL        -        -
$JS.API.CONSUMER.CREATE.FLAGS.x      -        -
$JS.API.CONSUMER.MSG.NEXT.TRAIL.x    -        -
$JS.API.STREAM.CREATE.OTHER          -        -
$JS.API.STREAM.UPDATE.TRAIL          -        -
$JS.API.STREAM.DELETE.TRAIL          -        -
$JS.API.STREAM.PURGE.FLAGS           -        -
$JS.API.STREAM.MSG.DELETE.TRAIL      -        -
$JS.API.STREAM.SNAPSHOT.TRAIL        -        -
$JS.API.STREAM.RESTORE.TRAIL         -        -
$JS.ACK.TRAIL.x                      -        -
$JS.FC.TRAIL.x                       -        -
$JS.EVENT.ADVISORY.>                 -        -
$SRV.PING                            -        -
$SRV.INFO.trail                      -        -
$SRV.STATS.trail                     -        -
$SYS.>                               -        -
$SYS.REQ.SERVER.PING                 -        -
$SYS.REQ.USER.INFO                   -        -
$SYS.REQ.ACCOUNT.PING.CONNZ          -        -
$KV.x.y                              -        -
$O.x                                 -        -
`

// TestWhatEachRoleMayDoOverNATS holds the server to the table: each subject, each role, sending and reading.
func TestWhatEachRoleMayDoOverNATS(t *testing.T) {
	require.Empty(t, strayed(t, func(*broker.Account) {}))
}

// TestThatMatrixCanFail: one right too many or too few is found, and no other.
func TestThatMatrixCanFail(t *testing.T) {
	for name, row := range map[string]struct {
		change func(*broker.Account)
		finds  []string
	}{
		"a porter who may chase": {func(a *broker.Account) {
			if a.Role == "porter" {
				a.Asks = append(a.Asks, "chase")
			}
		}, []string{"porter may send to trail.v1.MBY.ask.chase"}},
		"a porter who reads the record": {func(a *broker.Account) {
			if a.Role == "porter" {
				a.Reads = append(a.Reads, "event.>")
			}
		}, []string{"porter may read trail.v1.MBY.event.>", "porter may read trail.v1.MBY.event.note.added", "porter may read trail.v1.MBY.event.result.issued"}},
		"a laboratory of another clinic too": {func(a *broker.Account) {
			if a.Role == "laboratory" {
				a.Clinics = append(a.Clinics, "HCX")
			}
		}, []string{"laboratory may send to trail.v1.HCX.record", "laboratory may send to trail.v1.HCX.ask.case", "laboratory may send to trail.v1.HCX.ask.codes",
			"laboratory may read trail.v1.HCX.flag.>", "laboratory may read trail.v1.HCX.flag.*", "laboratory may read trail.v1.HCX.flag.pot-lost", "laboratory may read trail.v1.HCX.checkpoint.*"}},
		"a clinician who may not ask for a proof": {func(a *broker.Account) {
			if a.Role == "clinician" {
				a.Asks = slices.DeleteFunc(a.Asks, func(what string) bool { return what == "proof" })
			}
		}, []string{"clinician may not send to trail.v1.MBY.ask.proof"}},
	} {
		t.Run(name, func(t *testing.T) { require.Equal(t, row.finds, strayed(t, row.change)) })
	}
}

// strayed lets a client of each role in, tries every subject of the table, and says where it was let do what the table does not
// have, or was not let do what it has.
func strayed(t *testing.T, change func(*broker.Account)) []string {
	t.Helper()
	var list []broker.Account
	keys := map[string]nkeys.KeyPair{}
	for _, role := range tracker.Everybody.Keys() {
		pair, err := nkeys.CreateUser()
		require.NoError(t, err)
		public, err := pair.PublicKey()
		require.NoError(t, err)
		account := clientEntry{Name: role + "-1", Role: role, Clinics: []string{"MBY"}, Key: public}.account()
		change(&account)
		list, keys[role] = append(list, account), pair
	}
	s, err := broker.Start(broker.Options{StoreDir: t.TempDir(), Listen: "127.0.0.1:0", User: "trail", Password: "a long one", Accounts: list})
	require.NoError(t, err)
	t.Cleanup(func() { s.Stop(context.Background()) })
	var out []string
	for _, a := range list {
		can := tried(t, s.URL(), nats.Nkey(a.Key, keys[a.Role].Sign))
		for _, line := range strings.Split(strings.TrimSpace(permitted), "\n") {
			words := strings.Fields(line)
			if len(words) == 0 {
				continue
			}
			for i, doing := range []string{"send to", "read"} {
				should := strings.Contains(words[i+1], letterOf[a.Role])
				may, known := can[doing+words[0]]
				switch {
				case known && may && !should:
					out = append(out, fmt.Sprintf("%s may %s %s", a.Role, doing, words[0]))
				case known && !may && should:
					out = append(out, fmt.Sprintf("%s may not %s %s", a.Role, doing, words[0]))
				case !known && should:
					t.Fatalf("the table has %s of %s, and it was not tried", doing, words[0])
				}
			}
		}
	}
	return out
}

// tried publishes and subscribes to every subject of the table over one connection each, and says what the server let pass. A
// subject with a wildcard cannot be sent to.
func tried(t *testing.T, url string, key nats.Option) map[string]bool {
	t.Helper()
	said := make(chan string, 1000)
	conn, err := nats.Connect(url, key, nats.ErrorHandler(func(_ *nats.Conn, _ *nats.Subscription, err error) { said <- err.Error() }))
	require.NoError(t, err)
	defer conn.Close()
	can := map[string]bool{}
	for _, line := range strings.Split(strings.TrimSpace(permitted), "\n") {
		words := strings.Fields(line)
		if len(words) == 0 {
			continue
		}
		subject := words[0]
		if !strings.ContainsAny(subject, "*>") {
			require.NoError(t, conn.Publish(subject, []byte("{}")))
			can["send to"+subject] = true
		}
		_, err := conn.SubscribeSync(subject)
		require.NoError(t, err)
		can["read"+subject] = true
	}
	const fence = "nobody.may.publish.this" // errors come in the order of what was done
	require.NoError(t, conn.Publish(fence, nil))
	for {
		select {
		case text := <-said:
			if strings.Contains(text, fence) {
				return can
			}
			for doing, word := range map[string]string{"send to": "Publish", "read": "Subscription"} {
				if _, rest, found := strings.Cut(text, "Permissions Violation for "+word+" to \""); found {
					subject, _, _ := strings.Cut(rest, "\"")
					delete(can, doing+subject)
					can[doing+subject] = false
				}
			}
		case <-time.After(time.Minute):
			t.Fatal("the server says nothing")
		}
	}
}

// TestEveryQuestionAndFlagHasAPlaceInTheMatrix: nothing new slips past the table.
func TestEveryQuestionAndFlagHasAPlaceInTheMatrix(t *testing.T) {
	for _, role := range tracker.Everybody.Keys() {
		a := clientEntry{Name: role + "-1", Role: role, Clinics: []string{"MBY"}}.account()
		for _, subject := range a.Sends() {
			require.Contains(t, permitted, "\n"+subject+" ", role)
		}
		for _, subject := range a.Subscribes() {
			if strings.Contains(subject, ".flag.") && !strings.HasSuffix(subject, ">") {
				kind := tracker.FlagKind(subject[strings.LastIndexByte(subject, '.')+1:])
				role, _ := tracker.ParseRole(role)
				require.NotZero(t, tracker.FlagSeers(kind)&role, subject)
				continue
			}
			require.Contains(t, permitted, "\n"+subject+" ", role)
		}
	}
}
