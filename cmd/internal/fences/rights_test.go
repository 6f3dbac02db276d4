package fences

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/tracker"
)

var updateRights = flag.Bool("update", false, "write the table of rights in DEVELOPERS.md anew; read the diff before committing it")

const (
	rightsBegin = "<!-- rights: written by go test ./cmd/internal/fences -run Rights -update -->\n"
	rightsEnd   = "<!-- end of rights -->\n"
)

// rightsTable writes the table of rights as DEVELOPERS.md has it.
func rightsTable() string {
	var out strings.Builder
	heads := []string{"operator", "clinician", "porter", "laboratory", "coordinator", "quality", "administrator"}
	table := func(title string, rows []tracker.Right) {
		fmt.Fprintf(&out, "| %s | %s | any other | but | why |\n|---|%s---|---|---|\n", title, strings.Join(heads, " | "), strings.Repeat(":-:|", len(heads)))
		for _, r := range rows {
			fmt.Fprintf(&out, "| `%s` |", r.Key)
			for _, head := range heads {
				role, _ := tracker.ParseRole(head)
				mark := "  "
				if r.Roles&role != 0 {
					mark = " x "
				}
				fmt.Fprintf(&out, "%s|", mark)
			}
			other := "refused"
			switch {
			case r.Roles == tracker.Everybody:
				other = ""
			case r.Physical:
				other = "flagged"
			}
			fmt.Fprintf(&out, " %s | %s | %s |\n", other, r.But, r.Why)
		}
	}
	table("records", tracker.RecordRights())
	out.WriteString("\n")
	table("sees or does", tracker.ReadRights())
	return out.String()
}

// TestTheTableOfRightsIsInThePapers holds the table in DEVELOPERS.md to the one in the code.
func TestTheTableOfRightsIsInThePapers(t *testing.T) {
	text := paper(t, "DEVELOPERS.md")
	before, rest, ok := strings.Cut(text, rightsBegin)
	require.True(t, ok, "DEVELOPERS.md has no table of rights")
	is, after, ok := strings.Cut(rest, rightsEnd)
	require.True(t, ok, "the table of rights has no end")
	if *updateRights {
		require.NoError(t, os.WriteFile(filepath.Join(root(t), "DEVELOPERS.md"), []byte(before+rightsBegin+rightsTable()+rightsEnd+after), 0o644))
		return
	}
	require.Equal(t, rightsTable(), is, "go test ./cmd/internal/fences -run Rights -update writes it")
}

// TestEveryQuestionHasItsRight: a question that is in no line of the table could be asked by anybody.
func TestEveryQuestionHasItsRight(t *testing.T) {
	for _, q := range ask.Questions() {
		require.NotZero(t, tracker.ReadRight(q.What).Roles, "the question %s has no line in tracker/rights_read.go: say who may ask it, and why", q.What)
	}
}
