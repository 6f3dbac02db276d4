package tracker

import (
	"cmp"
	"slices"
	"time"
)

// ChaseRow is one case that wants action.
type ChaseRow struct {
	Case     Name      `json:"case"`
	Severity Severity  `json:"severity"`
	Due      time.Time `json:"due,omitzero"`
	Priority string    `json:"priority"`
	Text     string    `json:"text"` // what is wrong: the worst flag's
	Ask      string    `json:"ask"`  // what to do and whom to ring
	Who      string    `json:"who"`
	Holder   string    `json:"holder,omitzero"` // who has it
	Place    string    `json:"place,omitzero"`
	Last     *Call     `json:"last,omitzero"`
	Asleep   bool      `json:"asleep,omitzero"` // until the call says to ask again
	Flags    []Flag    `json:"flags"`
	rank     int
}

// Chase makes the chase list from judgements: one row a case with a flag that wants action, `watch` left out. Rows are
// ordered by severity, then due (longest overdue first), then priority; those asleep come last.
func Chase(judgements []Judgement, now time.Time) []ChaseRow {
	rows := []ChaseRow{}
	for _, j := range judgements {
		if row, ok := chaseRow(j, now); ok {
			rows = append(rows, row)
		}
	}
	slices.SortStableFunc(rows, func(a, b ChaseRow) int {
		asleep := 0
		if a.Asleep != b.Asleep {
			asleep = 1
			if b.Asleep {
				asleep = -1
			}
		}
		return cmp.Or(asleep, cmp.Compare(a.Severity.Rank(), b.Severity.Rank()), compareDue(a.Due, b.Due),
			cmp.Compare(a.rank, b.rank), cmp.Compare(a.Case, b.Case))
	})
	return rows
}

func chaseRow(j Judgement, now time.Time) (ChaseRow, bool) {
	row := ChaseRow{Case: j.Summary.Name, Priority: j.Summary.Priority, rank: j.Summary.Rank, Last: j.Summary.Call}
	for _, f := range j.Findings.Flags {
		if f.Severity != Watch {
			row.Flags = append(row.Flags, f)
		}
	}
	if len(row.Flags) == 0 {
		return ChaseRow{}, false
	}
	worst := row.Flags[0] // findings are in order
	if row.Case.Thing() == ThingRoomDay {
		row.Case = worst.Case
	}
	row.Severity, row.Due, row.Text, row.Ask, row.Who = worst.Severity, worst.Due, worst.Text, worst.Remedy, worst.Who
	if j.Summary.Call != nil {
		row.Asleep = now.Before(j.Summary.Call.SleepUntil)
	}
	row.Place, row.Holder = j.Summary.Place, j.Summary.Holder // of a bag
	for _, p := range j.Summary.Pots {
		if p.Name == worst.Item.Pot() || row.Place == "" {
			row.Place, row.Holder = p.Place, p.Holder
		}
	}
	return row, true
}
