package outside

import (
	"os"
	"os/exec"
	"testing"
)

// NothingSkips is the environment variable that turns each skipped outside check into a failure when it is "1".
const NothingSkips = "POTTRAIL_NOTHING_SKIPS"

// packages names the Debian package that has each program that a test of ours asks for. What stands here is what
// .ci/run installs; a test of the fences holds the two against each other.
var packages = map[string]string{
	"chromium":      "chromium",
	"dbus-daemon":   "dbus-daemon",
	"dmtxread":      "dmtx-utils",
	"ippeveprinter": "cups-ipp-utils",
	"certutil":      "libnss3-tools",
	"node":          "nodejs",
	"openssl":       "openssl",
	"pdftoppm":      "poppler-utils",
	"pdftotext":     "poppler-utils",
	"pdfinfo":       "poppler-utils",
	"strace":        "strace",
}

// Packages returns the Debian packages behind all programs that tests ask for, each once, in no order.
func Packages() []string {
	seen := make(map[string]bool)
	var out []string
	for _, p := range packages {
		if !seen[p] {
			seen[p] = true
			out = append(out, p)
		}
	}
	return out
}

// Need returns the path of a program that the test cannot do without. If it is not installed, the test is skipped
// with the name of the package that has it, or fails when [NothingSkips] is set. A program that Packages does not
// know fails the test at once, since .ci/run would not install it.
func Need(t testing.TB, program string) string {
	t.Helper()
	from, known := packages[program]
	if !known {
		t.Fatalf("%s is not among the programs that .ci/run installs: add it to testdata/outside and to .ci/run", program)
	}
	path, err := exec.LookPath(program)
	if err != nil {
		Missing(t, "%s is not installed (Debian: apt-get install %s)", program, from)
	}
	return path
}

// Missing ends a test that lacks something outside, for other reasons than an absent program: a skip with the reason,
// or a failure when [NothingSkips] is set.
func Missing(t testing.TB, format string, args ...any) {
	t.Helper()
	if os.Getenv(NothingSkips) == "1" {
		t.Fatalf(format, args...)
	}
	t.Skipf(format, args...)
}
