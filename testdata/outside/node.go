package outside

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// NodeModules is the environment variable that names the folder into which npm installed the packages that tests ask for.
const NodeModules = "POTTRAIL_NODE_MODULES"

// nodePackages are the packages for node that tests of ours ask for, each at the one version that they were written
// against. What stands here is what .ci/run installs; a test of the fences holds the two against each other.
var nodePackages = map[string]string{
	"zpl-renderer-js": "3.4.0", // interprets ZPL without a network
}

// NodePackages returns the packages for node that tests ask for, as npm takes them: name, "@", version.
func NodePackages() []string {
	var out []string
	for name, version := range nodePackages {
		out = append(out, name+"@"+version)
	}
	slices.Sort(out)
	return out
}

// Node returns the folder of a package for node that the test cannot do without. If it is not there in its version, the test
// is skipped with how to install it, or fails when [NothingSkips] is set. A package that NodePackages does not know fails the
// test at once, since .ci/run would not install it. The program node itself is asked for with [Need].
func Node(t testing.TB, name string) string {
	t.Helper()
	want, known := nodePackages[name]
	if !known {
		t.Fatalf("%s is not among the packages for node that .ci/run installs: add it to testdata/outside and to .ci/run", name)
	}
	remedy := "npm install --ignore-scripts --prefix FOLDER " + name + "@" + want + ", then set " + NodeModules + "=FOLDER/node_modules"
	modules := os.Getenv(NodeModules)
	if modules == "" {
		Missing(t, "%s is not set, so %s is not at hand (%s)", NodeModules, name, remedy)
	}
	folder, err := filepath.Abs(filepath.Join(modules, name))
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(folder, "package.json"))
	if err != nil {
		Missing(t, "%s is not installed in %s (%s)", name, NodeModules, remedy)
	}
	var told struct{ Version string }
	if err := json.Unmarshal(text, &told); err != nil || told.Version != want {
		Missing(t, "%s in %s is version %q (%s)", name, NodeModules, told.Version, remedy)
	}
	return folder
}
