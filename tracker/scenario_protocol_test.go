package tracker_test

import (
	"fmt"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// changeProtocol lays a piece of TOML over the protocol in force, or takes keys out of it; what follows is judged by that.
func (sc *scenario) changeProtocol(piece string, without []string) error {
	var whole, change map[string]any
	if err := toml.Unmarshal([]byte(sc.rules.Protocol().Text), &whole); err != nil {
		return err
	}
	if err := toml.Unmarshal([]byte(piece), &change); err != nil {
		return fmt.Errorf("the change of the protocol is no TOML: %w", err)
	}
	overlay(whole, change)
	for _, path := range without {
		if !remove(whole, strings.Split(path, ".")) {
			return fmt.Errorf("the protocol has no %q to take out", path)
		}
	}
	text, err := toml.Marshal(whole)
	if err != nil {
		return err
	}
	p, err := protocol.Parse(text)
	if err != nil {
		return fmt.Errorf("the changed protocol is refused: %w", err)
	}
	sc.faulty = false
	sc.rules, err = tracker.NewRules(p, time.LoadLocation)
	return err
}

// overlay replaces values and adds tables; a list replaces the whole list.
func overlay(whole, change map[string]any) {
	for key, value := range change {
		inner, isTable := value.(map[string]any)
		have, hasTable := whole[key].(map[string]any)
		if isTable && hasTable {
			overlay(have, inner)
			continue
		}
		whole[key] = value
	}
}

func remove(whole map[string]any, path []string) bool {
	inner, ok := whole[path[0]]
	switch {
	case !ok:
		return false
	case len(path) == 1:
		delete(whole, path[0])
		return true
	}
	table, ok := inner.(map[string]any)
	return ok && remove(table, path[1:])
}
