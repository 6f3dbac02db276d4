package web

import (
	"fmt"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
)

func TestWhoTriesTooOftenWaits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a := newAttempts()
		for range triesAtOnce {
			require.Zero(t, a.try("station room-2"))
		}
		require.Equal(t, tryEvery, a.try("station room-2"))
		require.Zero(t, a.try("station desk-1"), "and nobody else does")
		<-time.After(tryEvery - time.Second)
		require.Equal(t, time.Second, a.try("station room-2"), "trying in vain makes it no longer")
		<-time.After(time.Second)
		require.Zero(t, a.try("station room-2"))
		require.Positive(t, a.try("station room-2"))
		<-time.After(time.Hour)
		for range triesAtOnce {
			require.Zero(t, a.try("station room-2"), "no more is saved up than at first")
		}
		require.Positive(t, a.try("station room-2"))
	})
}

func TestWhoSucceedsIsNeverSlowedDown(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a := newAttempts()
		for range 10 * triesAtOnce {
			require.Zero(t, a.try("station hatch"))
			a.giveBack("station hatch")
		}
	})
}

func TestAStrangerWithManyAddressesFillsNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a := newAttempts()
		require.Zero(t, a.try("station room-2"))
		got := 0
		for i := range 100 * mostTriers {
			if a.try(fmt.Sprintf("address %d", i)) == 0 {
				got++
			}
		}
		require.LessOrEqual(t, len(a.paid), mostTriers+1)
		require.Less(t, got, mostTriers+triesAtOnce+1, "those that cannot be told apart share one limit")
		require.Zero(t, a.try("station room-2"), "who was there before keeps a place")
		<-time.After(triesAtOnce * tryEvery)
		require.Zero(t, a.try("address of a porter"))
		require.Less(t, len(a.paid), 3, "what is worked off is forgotten")
	})
}

func TestWhomAnAddressIsCountedAs(t *testing.T) {
	for remote, want := range map[string]string{
		"192.0.2.7:51000": "address 192.0.2.7", "192.0.2.7:51001": "address 192.0.2.7", "[::ffff:192.0.2.7]:4": "address 192.0.2.7",
		"[2001:db8:1:2:3::4]:9": "address 2001:db8:1:2::/64", "[2001:db8:1:2:ffff::1]:9": "address 2001:db8:1:2::/64", "[fe80::1%eth0]:9": "address fe80::/64",
		"@": others, "": others,
	} {
		require.Equal(t, want, from(remote), remote)
	}
}
