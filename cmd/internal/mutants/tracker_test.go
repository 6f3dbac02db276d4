package main

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestTheTestsOfTheCoreBite tries a few of the faults that the tool can make in tracker, always the same ones: each must be
// noticed, or stand in the list with the reason why it may live. DEVELOPERS.md says how to try all of them.
func TestTheTestsOfTheCoreBite(t *testing.T) {
	var out, log bytes.Buffer
	err := run(t.Context(), []string{"-package", "../../../tracker", "-survivors", "testdata/survivors.tsv", "-sample", "8", "-seed", "daily", "-least", "0.5"}, &out, &log)
	require.NoError(t, err, "%s\n%s", &out, &log)
	require.Contains(t, out.String(), "8 mutants")
}
