package daemon

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

const (
	oseisPIN = "844017"
	lundsPIN = "a long night"
)

// setUp goes through the first run of a clinic.
func setUp(t *testing.T, d *running) *ask.SignedIn {
	t.Helper()
	_, token, ok := strings.Cut(d.firstLink(), "/set-up#")
	require.True(t, ok)
	in, err := d.service.staff.SetUp(t.Context(), ask.SetUpRequest{Token: ask.Secret(token), Staff: "nurse.osei", PIN: oseisPIN, Station: "desk-1"})
	require.NoError(t, err)
	return in
}

// kindAndCode is what an error of sign-in is for whoever asks.
func kindAndCode(t *testing.T, err error) (ask.Kind, string) {
	t.Helper()
	var e *ask.Error
	require.ErrorAs(t, err, &e)
	require.NotContains(t, e.Text, oseisPIN)
	require.NotContains(t, e.Text, "nurse.osei", "who asks may be a stranger")
	return e.Kind, e.Code
}

func TestTheFirstRunAndAfter(t *testing.T) {
	d := atWork(t, 0)
	s := d.service.staff
	require.False(t, s.InForce())
	in := setUp(t, d)
	require.True(t, s.InForce())
	require.Empty(t, d.firstLink(), "nobody is shown a second one")
	_, err := d.service.SetUpLink(t.Context(), ask.LinkRequest{})
	require.Equal(t, "set-up", codeOf(t, err))

	session, err := s.Session(t.Context(), in.Token)
	require.NoError(t, err)
	require.Equal(t, "nurse.osei", session.Staff)
	station, err := s.Station(t.Context(), in.StationKey)
	require.NoError(t, err)
	require.Equal(t, "desk-1", station.Key)
	require.NoError(t, s.Confirm(t.Context(), in.Token, oseisPIN))

	_, err = d.service.AddStaff(t.Context(), ask.StaffRequest{Key: "porter.lund", PIN: lundsPIN, By: "nurse.osei"})
	require.NoError(t, err)
	lund, err := s.SignIn(t.Context(), ask.SignInRequest{Station: in.StationKey, Badge: "B:porter.lund", PIN: lundsPIN})
	require.NoError(t, err)
	require.Equal(t, []string{"nurse.osei"}, lund.Session.Others)
	back, err := s.Switch(t.Context(), ask.SwitchRequest{Station: in.StationKey, Badge: "B:nurse.osei"})
	require.NoError(t, err)
	_, err = s.Look(t.Context(), in.Token)
	kind, code := kindAndCode(t, err)
	require.Equal(t, ask.Unknown, kind)
	require.Equal(t, "signed-out", code, "a switch gives a new token")
	require.NoError(t, s.SignOut(t.Context(), back.Token))
	_, err = s.Switch(t.Context(), ask.SwitchRequest{Station: in.StationKey, Badge: "B:nurse.osei"})
	_, code = kindAndCode(t, err)
	require.Equal(t, "pin-needed", code)

	link, err := d.service.EnrolStation(t.Context(), ask.EnrolStationRequest{Key: "room-2", Clinic: "MBY", Shared: true, By: "nurse.osei"})
	require.NoError(t, err)
	require.True(t, link.Only, "this machine alone is served")
	_, token, ok := strings.Cut(link.Link, "/enrol#")
	require.True(t, ok)
	enrolled, err := s.Enrol(t.Context(), ask.EnrolRequest{Token: ask.Secret(token)})
	require.NoError(t, err)
	require.Equal(t, "room-2", enrolled.Station.Key)
	_, err = s.Enrol(t.Context(), ask.EnrolRequest{Token: ask.Secret(token)})
	kind, code = kindAndCode(t, err)
	require.Equal(t, ask.Unknown, kind)
	require.Equal(t, "bad-link", code)
}

func TestNobodyIsToldWhatWasWrong(t *testing.T) {
	d := atWork(t, 0)
	in := setUp(t, d)
	s := d.service.staff
	_, err := d.service.AddStaff(t.Context(), ask.StaffRequest{Key: "porter.lund", PIN: lundsPIN, By: "nurse.osei"})
	require.NoError(t, err)
	_, err = d.service.RemoveStaff(t.Context(), ask.StaffRequest{Key: "porter.lund", By: "nurse.osei"})
	require.NoError(t, err)
	var said []string
	for _, badge := range []string{"B:nurse.osei", "B:nurse.nobody", "B:porter.lund", "no badge at all"} {
		for range 2 {
			_, err := s.SignIn(t.Context(), ask.SignInRequest{Station: in.StationKey, Badge: badge, PIN: lundsPIN})
			kind, code := kindAndCode(t, err)
			said = append(said, code, err.Error())
			if kind == ask.TooMany {
				require.Positive(t, ask.As(err).Wait)
			}
		}
	}
	for i := 4; i < len(said); i++ {
		require.Equal(t, said[i%4], said[i])
	}
	require.Equal(t, []string{"refused", "wait"}, []string{said[0], said[2]})
}

func TestTheLastAdministratorStays(t *testing.T) {
	d := atWork(t, 0)
	setUp(t, d)
	remove := func(key string) error {
		_, err := d.service.RemoveStaff(t.Context(), ask.StaffRequest{Key: key, By: "nurse.osei"})
		return err
	}
	require.Equal(t, "last-administrator", codeOf(t, remove("nurse.osei")))
	require.Equal(t, "nobody", codeOf(t, remove("nurse.nobody")))
	_, err := d.service.AddStaff(t.Context(), ask.StaffRequest{Key: "porter.lund", PIN: lundsPIN, By: "nurse.osei"})
	require.NoError(t, err)
	require.NoError(t, remove("nurse.osei"), "while no list says who is one, everybody is")
	require.Equal(t, "last-administrator", codeOf(t, remove("porter.lund")))
}

func TestTheDemoHasNoLink(t *testing.T) {
	d := atWork(t, 0)
	d.o.Demo = &Demo{}
	require.Empty(t, d.firstLink())
	d.o.Demo = nil
	require.NotEmpty(t, d.firstLink())
}

// Who may sign in, and where, is in a backup; what was sealed opens with the key of the people file.
func TestWhoMaySignInIsPutBack(t *testing.T) {
	d := atWork(t, 0)
	in := setUp(t, d)
	var archive bytes.Buffer
	require.NoError(t, d.backups.Backup(t.Context(), &archive, func(string, int64, int64) {}))
	require.NotContains(t, archive.String(), "argon2id")
	again := filepath.Join(t.TempDir(), "again")
	_, err := Restore(t.Context(), Restoring{Archive: bytes.NewReader(archive.Bytes()), Folder: again, Key: d.folder.path(fileKey)})
	require.NoError(t, err)
	o := d.o
	o.Folder.Dir = again
	other := &running{o: o, broken: make(chan error, 1)}
	require.NoError(t, other.start())
	defer other.stop()
	require.True(t, other.service.staff.InForce(), "the door that was shut stays shut")
	_, err = other.service.staff.SignIn(t.Context(), ask.SignInRequest{Station: in.StationKey, Badge: "B:nurse.osei", PIN: oseisPIN})
	require.NoError(t, err)
}

// With the key of the people file changed behind its back nobody can sign in, and everybody can be given a new PIN.
func TestWithoutTheKeyEveryoneNeedsANewPIN(t *testing.T) {
	r := newRoom(t)
	_, err := r.service.AddStaff(t.Context(), ask.StaffRequest{Key: "nurse.osei", PIN: oseisPIN, By: "admin.falk"})
	require.NoError(t, err)
	require.NoError(t, r.service.staff.file.Rekey(bytes.Repeat([]byte{9}, 32)))
	r.again(t, nil)
	list, err := r.service.Staff(t.Context(), ask.StaffListRequest{})
	require.NoError(t, err)
	require.True(t, list.Staff[0].NoPIN)
	require.True(t, r.service.staff.InForce())
	_, err = r.service.SetPIN(t.Context(), ask.StaffRequest{Key: "nurse.osei", PIN: oseisPIN, By: "admin.falk"})
	require.NoError(t, err)
	list, err = r.service.Staff(t.Context(), ask.StaffListRequest{})
	require.NoError(t, err)
	require.False(t, list.Staff[0].NoPIN)
}
