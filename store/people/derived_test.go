package people_test

import (
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/store/people"
)

func TestAKeyForSomethingElseIsTheSameUntilAPatientIsForgotten(t *testing.T) {
	at := newPlace(t)
	f := at.open(t, people.Options{})
	queue, err := f.DerivedKey("print queue")
	require.NoError(t, err)
	require.Len(t, queue, 32)
	other, err := f.DerivedKey("something else")
	require.NoError(t, err)
	require.NotEqual(t, queue, other, "each use has its own")
	raw, err := os.ReadFile(at.key)
	require.NoError(t, err)
	require.NotContains(t, string(raw), string(queue))
	require.NoError(t, f.Close())

	f = at.open(t, people.Options{})
	again, err := f.DerivedKey("print queue")
	require.NoError(t, err)
	require.Equal(t, queue, again, "the same after a start")

	who := ref(t)
	require.NoError(t, f.Put(who, ada()))
	ok, err := f.Forget(who, time.Unix(1_700_000_000, 0))
	require.NoError(t, err)
	require.True(t, ok)
	after, err := f.DerivedKey("print queue")
	require.NoError(t, err)
	require.NotEqual(t, queue, after, "what was sealed before shows the patient to nobody any more")
	both, err := f.DerivedKeys("print queue")
	require.NoError(t, err)
	require.Equal(t, [][]byte{after, queue}, both, "so that what waits can be sealed anew")
	require.NoError(t, f.Settle())
	one, err := f.DerivedKeys("print queue")
	require.NoError(t, err)
	require.Equal(t, [][]byte{after}, one)
}
