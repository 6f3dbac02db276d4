package fences

import (
	"fmt"
	"path"
	"slices"
	"strings"
	"testing"
)

// lower lists, for each folder, the folders of ours that it may import, tests excepted. A name ending in "/..." stands
// for the folder and all below it. What is lower knows nothing of what is higher, and events never sees the store.
var lower = map[string][]string{
	"cmd/pottrail":         {"cmd/internal/..."},
	"cmd/internal/cli":     {"cmd/internal/daemon", "cmd/internal/examine", "cmd/internal/certificates", "cmd/internal/ics", "cmd/internal/config", "cmd/internal/ask", "cmd/internal/press", "cmd/internal/say", "cmd/internal/web", "store/...", "events/...", "labels/...", "tracker/..."},
	"cmd/internal/daemon":  {"cmd/internal/web", "cmd/internal/examine", "cmd/internal/certificates", "cmd/internal/config", "cmd/internal/ask", "cmd/internal/press", "cmd/internal/say", "store/...", "events/...", "labels/...", "tracker/..."},
	"cmd/internal/web":     {"cmd/internal/certificates", "cmd/internal/config", "cmd/internal/ask", "cmd/internal/say", "store/...", "events", "labels", "tracker/..."},
	"cmd/internal/press":   {"cmd/internal/config", "cmd/internal/ask", "store/prints", "labels/...", "tracker/..."},
	"cmd/internal/examine": {"events/evidence", "store", "store/boltfile", "store/people", "store/prints", "store/staff"},
	"cmd/internal/ask":     {"store/...", "events", "events/evidence", "tracker/..."},
	"cmd/internal/say":     {"tracker", "tracker/protocol", "tracker/tissue"},
	"cmd/internal/config":  {"cmd/internal/certificates", "labels", "labels/printers", "labels/wire", "tracker"},
	"cmd/internal/ics":     {"tracker/timetable"},
	"cmd/internal/fences":  {},
	"cmd/internal/mutants": {},
	"cmd/internal/canary":  {},

	"cmd/internal/campaign":     {"cmd/internal/daemon", "cmd/internal/config", "cmd/internal/examine", "store/...", "events/...", "tracker/..."},
	"cmd/internal/certificates": {},

	"store":           {"store/boltfile", "events", "events/evidence", "tracker", "tracker/protocol", "tracker/timetable"},
	"store/backup":    {"store", "store/boltfile", "store/people", "store/staff"},
	"store/boltfile":  {},
	"store/people":    {"store/boltfile", "store/sealing"},
	"store/prints":    {"store/boltfile", "store/sealing", "tracker"},
	"store/sealing":   {},
	"store/staff":     {"store/boltfile", "store/sealing", "tracker/protocol"},
	"store/storetest": {"store", "store/people", "events", "events/evidence", "tracker/..."},

	"events":          {"tracker", "tracker/protocol"},
	"events/broker":   {"events", "tracker"},
	"events/evidence": {"events", "tracker"},
	"events/lab":      {"events", "events/lab/...", "tracker"},
	"events/lab/hl7":  {"events", "tracker"},
	"events/lab/fhir": {"events", "tracker"},

	"labels":               {"tracker"},
	"labels/ipp":           {},
	"labels/wire":          {"labels"},
	"labels/wire/wiretest": {"labels", "labels/wire"},
	"labels/printers":      {"labels", "labels/ipp", "labels/wire"},

	"tracker":            {"tracker/forecast", "tracker/protocol", "tracker/timetable", "tracker/tissue"},
	"tracker/forecast":   {"tracker/timetable"},
	"tracker/turnaround": {"tracker", "tracker/protocol", "tracker/timetable"},
	"tracker/demo":       {"tracker", "tracker/protocol", "tracker/timetable"},
	"tracker/protocol":   {"tracker/timetable"},
	"tracker/timetable":  {},
	"tracker/tissue":     {},

	"testdata/outside":   {},
	"testdata/published": {},
}

func arrows(all []*source) []complaint {
	var out []complaint
	known := make(map[string]bool)
	for _, s := range all {
		allowed, listed := lower[s.folder()]
		if !listed {
			if !known[s.folder()] {
				known[s.folder()] = true
				out = append(out, complaint{s.name, "folder " + s.folder() + " has no line in the arrows",
					"say in arrows_test.go what it may import, so that it gets a place in the house"})
			}
			continue
		}
		if s.isTest() {
			continue
		}
		for _, spec := range s.tree.Imports {
			p := strings.Trim(spec.Path.Value, `"`)
			to, ours := strings.CutPrefix(p, module+"/")
			if !ours || slices.ContainsFunc(allowed, func(a string) bool { return covers(a, to) }) {
				continue
			}
			out = append(out, complaint{s.at(spec), fmt.Sprintf("%s imports %s", s.folder(), to),
				fmt.Sprintf("arrows point down only; %s may import: %s. Pass the value in, or declare the small interface that is needed here",
					s.folder(), strings.Join(append([]string{"nothing of ours"}[:max(0, 1-len(allowed))], allowed...), ", "))})
		}
	}
	return out
}

// covers reports whether an entry of lower allows a folder.
func covers(entry, folder string) bool {
	base, deep := strings.CutSuffix(entry, "/...")
	return folder == base || deep && strings.HasPrefix(folder, base+"/")
}

func TestArrows(t *testing.T) { stands(t, arrows(wholeTree(t))) }

func TestArrowsCanFail(t *testing.T) {
	use := func(pkg, imported string) string {
		return fmt.Sprintf("package %s\nimport _ %q\n", pkg, path.Join(module, imported))
	}
	canFail(t, arrows, []bad{
		{"the core sees the codec", "tracker/x.go", use("tracker", "events"), "tracker imports events"},
		{"the codec sees the store", "events/x.go", use("events", "store"), "events imports store"},
		{"the broker sees the store", "events/broker/x.go", use("broker", "store"), "events/broker imports store"},
		{"labels see the events", "labels/x.go", use("labels", "events"), "labels imports events"},
		{"rules as data see the core", "tracker/protocol/x.go", use("protocol", "tracker"), "tracker/protocol imports tracker"},
		{"pages see the daemon", "cmd/internal/web/x.go", use("web", "cmd/internal/daemon"), "cmd/internal/web imports cmd/internal/daemon"},
		{"a folder without a place", "tracker/extras/x.go", "package extras\n", "no line in the arrows"},
		{"a test may look around", "events/x_test.go", use("events_test", "store"), ""},
		{"the store sees the codec", "store/x.go", use("store", "events"), ""},
		{"the command line sees all below", "cmd/internal/cli/x.go", use("cli", "store/people"), ""},
	})
}

// TestArrowsHaveNoCircle shows that the plan itself points one way: following the arrows never comes back.
func TestArrowsHaveNoCircle(t *testing.T) {
	var visit func(folder string, way []string)
	visit = func(folder string, way []string) {
		if slices.Contains(way, folder) {
			t.Fatalf("arrows go round: %s -> %s", strings.Join(way, " -> "), folder)
		}
		for to := range lower {
			if to != folder && slices.ContainsFunc(lower[folder], func(a string) bool { return covers(a, to) }) {
				visit(to, append(slices.Clone(way), folder))
			}
		}
	}
	for folder := range lower {
		visit(folder, nil)
	}
}
