package main

import (
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A run as strace tells it, with one call that another one came between.
const smallTrace = `10 openat(AT_FDCWD, "\x2f\x64\x2f\x61", O_RDWR|O_CREAT|O_CLOEXEC, 0600) = 3
10 pwrite64(3, "\x31\x32", 2, 0) = 2
11 fdatasync(3 <unfinished ...>
10 pwrite64(3, "\x33", 1, 4) = 1
11 <... fdatasync resumed>)           = 0
10 openat(AT_FDCWD, "\x2f\x64", O_RDONLY|O_CLOEXEC) = 4
10 fsync(4)                                = 0
10 renameat(AT_FDCWD, "\x2f\x64\x2f\x61", AT_FDCWD, "\x2f\x64\x2f\x62") = 0
10 write(1, "\x64\x6f\x6e\x65\x09\x6b\x09\x76\x0a", 9) = 9
10 unlinkat(AT_FDCWD, "\x2f\x64\x2f\x63", 0) = -1 ENOENT (No such file or directory)
10 +++ exited with 0 +++
`

func TestATraceIsReplayed(t *testing.T) {
	ops, err := readTrace(strings.NewReader(smallTrace), "/d")
	require.NoError(t, err)
	seen := func(step int, deaf func(op) bool) map[string]int {
		states := map[string]int{}
		for seed := range uint64(400) {
			r := newReplay(ops, deaf)
			r.until(step)
			for name, data := range r.left(rand.New(rand.NewPCG(seed, 1))) {
				states[name+" "+strings.ReplaceAll(string(data), "\x00", "0")]++
			}
		}
		return states
	}
	require.Contains(t, seen(2, nil), "a ", "nothing was synced")
	require.Contains(t, seen(2, nil), "a 12")
	after := seen(len(ops), nil)
	require.NotContains(t, after, "a ")
	require.Contains(t, after, "a 12", "what was written while the sync was under way is not sure, nor is the new name")
	require.Contains(t, after, "b 12003")
	require.Contains(t, seen(len(ops), func(o op) bool { return o.kind == opSync }), "b ", "without the sync nothing is sure")

	p := promised{done: map[string]string{}}
	p.hear(ops[len(ops)-1].data)
	lost, strange := p.against(map[string]string{"k": "v"})
	require.Empty(t, append(lost, strange...))
	lost, strange = p.against(map[string]string{"other": "v"})
	require.Len(t, lost, 1)
	require.Len(t, strange, 1)
}

func TestATraceThatCannotBeFollowedIsRefused(t *testing.T) {
	open := `10 openat(AT_FDCWD, "\x2f\x64\x2f\x61", O_RDWR|O_CREAT, 0600) = 3` + "\n"
	for _, line := range []string{`10 copy_file_range(5, NULL, 3, NULL, 9, 0) = 9`, `10 fallocate(3, 0, 0, 9) = 0`, `10 dup(3) = 4`, `10 mkdirat(AT_FDCWD, "\x2f\x64\x2f\x61", 0700) = 0`, `nonsense`} {
		_, err := readTrace(strings.NewReader(open+line+"\n"), "/d")
		require.Error(t, err, line)
	}
}
