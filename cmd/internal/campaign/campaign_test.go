package main

import (
	"context"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/testdata/outside"
)

// TestMain lets the test binary be the children of its trials.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && child(context.Background(), os.Args[1:], os.Stdin, os.Stdout) {
		return
	}
	os.Exit(m.Run())
}

// Each trial in its short form: nothing is lost or double, and its control is noticed.
func TestCampaign(t *testing.T) {
	for _, trial := range trials() {
		t.Run(trial.name, func(t *testing.T) {
			if slices.Contains(straceTrials, trial.name) {
				outside.Need(t, "strace")
			}
			if err := trial.needs(); err != nil {
				outside.Missing(t, "%v", err)
			}
			r, err := trial.once(t.Context(), 1, trial.short)
			require.NoError(t, err)
			t.Log(r)
			require.True(t, r.kept(), "%s", r)
			require.NotZero(t, r.Acknowledged)
		})
	}
}
