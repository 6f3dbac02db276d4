package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"
	"sync"
)

// outcome is what became of the mutants.
type outcome struct {
	dropped int
	mu      sync.Mutex
	all     []verdict
}

func (o *outcome) add(v verdict) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.all = append(o.all, v)
}

// readReasons reads who may live: file, function, code as it is, code with the fault, reason; by tabs, after a line of
// headings.
func readReasons(name string) (map[string]string, error) {
	text, err := os.ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("no list of survivors at %s: run this from the root of the tree, or name one with -survivors", name)
	}
	if err != nil {
		return nil, fmt.Errorf("read the list of survivors: %w", err)
	}
	reasons := make(map[string]string)
	for i, line := range strings.Split(strings.TrimRight(string(text), "\n"), "\n") {
		cells := strings.Split(line, "\t")
		switch {
		case len(cells) != 5:
			return nil, fmt.Errorf("%s:%d: %d cells, must be 5: file, function, original, mutant, reason", name, i+1, len(cells))
		case i == 0:
			continue
		case strings.TrimSpace(cells[4]) == "":
			return nil, fmt.Errorf("%s:%d: no reason: say why this one may live, or write the test that notices it", name, i+1)
		}
		reasons[strings.Join(cells[:4], "\t")] = cells[4]
	}
	return reasons, nil
}

// tell writes the figures and the survivors, those without a reason first. Its error is errBite when it is not enough.
func (o *outcome) tell(out io.Writer, reasons map[string]string, opt options) error {
	slices.SortFunc(o.all, func(a, b verdict) int { return cmp.Compare(a.id, b.id) })
	var reached, killed, hanged, excused int
	var strange []verdict
	for _, v := range o.all {
		if v.reached {
			reached++
		}
		_, known := reasons[v.name()]
		switch {
		case v.end == hung:
			hanged++
			killed++
		case v.end == failed:
			killed++
		case known:
			excused++
		default:
			strange = append(strange, v)
		}
		if opt.all && (v.end != passed || known) {
			fmt.Fprintf(out, "%s\t%s\n", map[fate]string{passed: "lives with a reason", failed: "dead", hung: "hung"}[v.end], v.mutant)
		}
	}
	for _, v := range strange {
		how := ""
		switch {
		case !v.reached:
			how = ", never reached"
		case !v.differs:
			how = ", never another value"
		}
		fmt.Fprintf(out, "lives%s\t%s\n", how, v.mutant)
	}
	if opt.look {
		fmt.Fprintf(out, "%d mutants: %d live for certain, %d of them with a reason\n", len(o.all), len(strange)+excused, excused)
		return nil
	}
	share := float64(killed) / float64(max(1, len(o.all)))
	fmt.Fprintf(out, "%d mutants, %d reached, %d killed (%d of them by hanging), %.1f %%; %d live with a reason, %d without; %d left out because they do not compile\n",
		len(o.all), reached, killed, hanged, 100*share, excused, len(strange), o.dropped)
	if len(strange) > 0 {
		return fmt.Errorf("%w: %d live and are not in %s: write tests that notice them, or say there why they may live", errBite, len(strange), opt.survivors)
	}
	if share < opt.least {
		return fmt.Errorf("%w: %.1f %% die, at least %.1f %% must", errBite, 100*share, 100*opt.least)
	}
	return nil
}
