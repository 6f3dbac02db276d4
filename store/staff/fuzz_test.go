package staff_test

import (
	"os"
	"slices"
	"testing"

	"maps"

	"github.com/go-json-experiment/json"
	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store/staff"
)

func modeOf(t *testing.T, path string) string {
	info, err := os.Stat(path)
	require.NoError(t, err)
	return info.Mode().String()
}

// FuzzStored reads anything as each kind of entry: an error in a sentence, or what is written again and read the same.
func FuzzStored(f *testing.F) {
	for _, seed := range []string{"", "{}", "[]", `{"key":"nurse.osei","pin":"AAAA","added":"2026-03-06T09:45:00Z","added_by":"x","changed":"2026-03-06T09:45:00Z","changed_by":"x"}`,
		`{"wrong":3,"last":"2026-03-06T09:45:00Z"}`, `{"wrong":-3}`, `{"key":"room-2","by":"x","hash":"` + "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=" + `"}`,
		`{"key":"room-2","by":"x","made":"2026-03-06T09:45:00Z"}`,
		`{"number":1,"hash":"47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=","staff":"nurse.osei","station":"room-2","since":"2026-03-06T09:45:00Z","last":"2026-03-06T09:45:00Z","age_ms":0,"written":"2026-03-06T09:45:00Z","idle_ms":300000}`,
		`{"id":"x","kind":"y","by":"z","at":"2026-03-06T09:45:00Z","station":"","recorded":"2026-03-06T09:45:00Z","why":""}`} {
		f.Add([]byte(seed))
	}
	kinds := slices.Sorted(maps.Keys(staff.Parsers))
	f.Fuzz(func(t *testing.T, raw []byte) {
		for _, kind := range kinds {
			read, err := staff.Parsers[kind](raw)
			if err != nil {
				require.ErrorIs(t, err, staff.ErrDamaged)
				continue
			}
			text, err := json.Marshal(read)
			require.NoError(t, err, kind)
			again, err := staff.Parsers[kind](text)
			require.NoError(t, err, kind)
			require.Equal(t, read, again, kind)
		}
	})
}

// FuzzHashed reads anything as a hashed PIN: one spelling only, and no cost that takes the machine's memory.
func FuzzHashed(f *testing.F) {
	f.Add(staff.HashOf(staff.Cost{Memory: 8, Time: 1, Lanes: 1}, "844017"))
	f.Add("$argon2id$v=19$m=4294967295,t=4294967295,p=255$AAAAAAAAAAAAAAAAAAAAAA$AAAA")
	f.Fuzz(func(t *testing.T, text string) {
		again, err := staff.ParseHashed(text)
		if err != nil {
			require.ErrorIs(t, err, staff.ErrDamaged)
			return
		}
		require.Equal(t, text, again)
	})
}

// FuzzPIN chooses anything as a PIN: taken and then good to sign in with, or refused with a sentence that does not repeat it.
func FuzzPIN(f *testing.F) {
	f.Add("nurse.osei", "844017")
	f.Add("nurse.osei", "\u00fcberall")
	f.Add("x", "\xff\xff\xff\xff\xff\xff")
	f.Fuzz(func(t *testing.T, who, pin string) {
		err := staff.CheckPIN(who, pin)
		var weak *staff.PINError
		if err != nil {
			require.ErrorAs(t, err, &weak)
			return
		}
		require.NoError(t, staff.CheckPIN(who, pin))
		require.LessOrEqual(t, len([]rune(pin)), 4*staff.LongestPIN)
	})
}

// FuzzSignIn says anything at the door: nobody gets in but by the PIN, and nothing breaks.
func FuzzSignIn(f *testing.F) {
	f.Add("B:nurse.osei", "844018")
	f.Add("B:\x00", "")
	f.Add("nurse.osei\x00room-2", "844017")
	c := newClinic(f)
	f.Fuzz(func(t *testing.T, badge, pin string) {
		c.pass(20 * 60 * 1e9)
		in, err := c.signIn(badge, room, pin)
		if err == nil {
			require.Contains(t, badge, in.Session.Staff)
			require.Contains(t, []string{oseis, lunds}, pin)
		}
		_, err = c.Switch(c.keys[room], badge)
		if err != nil {
			require.ErrorIs(t, err, staff.ErrPINNeeded)
		}
		_, err = c.WasSignedIn(badge, pin, c.wall)
		require.NoError(t, err)
	})
}
