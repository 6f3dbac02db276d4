package web

import (
	"cmp"
	"net/http"
	"slices"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/say"
	"github.com/pottrail/pottrail/tracker"
)

// boardPage is the live page: what is wrong, worst first, and where everything is.
type boardPage struct {
	frame
	Alone   bool // it goes into a page that is open
	At      string
	Now     int // flags that count minutes or hours
	Today   int
	Watched int
	Open    int
	Pots    int // on their way
	Flags   []flagRow
	Watch   []flagRow
	Stages  []boardStage
	// Printing says which label printers want somebody.
	Printing []string
	Backup   string // that the nightly backup failed
}

// Well says what is well.
func (p boardPage) Well() string {
	if p.Open == 0 {
		return "No case is open."
	}
	well := say.Count(p.Open, "case") + " open, " + say.Count(p.Pots, "pot") + " on the way or at the laboratory"
	if p.Now+p.Today == 0 {
		well += ", none late"
	}
	return well + "."
}

// boardStage is one part of the way from needle to answer.
type boardStage struct {
	Title  string
	Hint   string // said when the stage is empty
	Count  int
	Places []boardPlace
}

// boardPlace is what stands in one place.
type boardPlace struct {
	Name  string
	Count int
	Cases []boardCase
	More  []boardCase // quiet ones that would make the page long
}

// boardCase is one case or bag in its place.
type boardCase struct {
	Code   string
	Href   string
	Worst  tracker.Severity // of its flags that count; "" when nothing is wrong
	Detail string
	since  time.Time
	rank   int
}

const (
	mostFlags   = 60 // shown; more than that is no list any more
	quietShown  = 6  // quiet cases shown in a place before the rest folds away
	boardPart   = "board"
	partQuery   = "part"
	wholePage   = "frame"
	noPlaceWord = "place not recorded"
)

// boardShow shows the live page, or with ?part=board only what changes on it.
func (s *Server) boardShow(w http.ResponseWriter, r *http.Request) {
	board, err := s.o.Board.Board(r.Context())
	if err != nil {
		s.problem(w, r, err)
		return
	}
	page := s.boardPage(r, board)
	part := wholePage
	if r.URL.Query().Get(partQuery) == boardPart {
		part, page.Alone = boardPart, true
	}
	s.show(w, http.StatusOK, s.pages.board, part, page)
}

func (s *Server) boardPage(r *http.Request, board BoardAnswer) boardPage {
	page := boardPage{frame: s.frame(r, "Pottrail", liveURL), At: say.Instant(board.At, s.o.Board.Zone(""), time.Time{}), Printing: board.Printing, Backup: board.Backup}
	var flags []tracker.Flag
	for _, j := range board.Open {
		flags = append(flags, j.Findings.Flags...)
		if j.Summary.Name.Thing() == tracker.ThingCase && !j.Summary.Closed {
			page.Open++
		}
	}
	slices.SortStableFunc(flags, tracker.CompareFlags)
	for _, f := range flags {
		row := s.flagRow(f, board.At)
		switch f.Severity {
		case tracker.Watch:
			page.Watched++
			if len(page.Watch) < mostFlags {
				page.Watch = append(page.Watch, row)
			}
			continue
		case tracker.Now:
			page.Now++
		default:
			page.Today++
		}
		if len(page.Flags) < mostFlags {
			page.Flags = append(page.Flags, row)
		}
	}
	page.Stages, page.Pots = s.stages(board)
	return page
}

// Hidden is how many flags are not shown.
func (p boardPage) Hidden() int { return p.Now + p.Today - len(p.Flags) }

// stages sorts open cases into the parts of the way and their places.
func (s *Server) stages(board BoardAnswer) (stages []boardStage, pots int) {
	stages = []boardStage{
		{Title: "To come", Hint: "no case waits for its needle"},
		{Title: "In the room", Hint: "nobody is in a room"},
		{Title: "On the way", Hint: "nothing is between clinic and laboratory"},
		{Title: "At the laboratory", Hint: "the laboratory has nothing of ours"},
		{Title: "Answered", Hint: "every answer is read and told"},
	}
	places := make([]map[string]*boardPlace, len(stages))
	for i := range places {
		places[i] = map[string]*boardPlace{}
	}
	for _, j := range board.Open {
		at, ok := stageOf(j.Summary.Step)
		if !ok || j.Summary.Closed {
			continue
		}
		if at == 2 || at == 3 {
			pots += len(j.Summary.Pots)
		}
		name, entry := s.boardCase(j, board.At)
		place := places[at][name]
		if place == nil {
			place = &boardPlace{Name: name}
			places[at][name] = place
		}
		place.Count++
		place.Cases = append(place.Cases, entry)
		stages[at].Count++
	}
	for i := range stages {
		for _, place := range places[i] {
			place.fold()
			stages[i].Places = append(stages[i].Places, *place)
		}
		slices.SortFunc(stages[i].Places, func(a, b boardPlace) int { return cmp.Compare(a.Name, b.Name) })
	}
	return stages, pots
}

// fold puts the worst first, then who has waited longest, and folds away quiet ones beyond a handful.
func (p *boardPlace) fold() {
	slices.SortFunc(p.Cases, func(a, b boardCase) int {
		return cmp.Or(cmp.Compare(a.rank, b.rank), a.since.Compare(b.since), cmp.Compare(a.Code, b.Code))
	})
	shown := quietShown
	for shown < len(p.Cases) && p.Cases[shown].Worst != "" {
		shown++
	}
	if shown < len(p.Cases) {
		p.Cases, p.More = p.Cases[:shown], p.Cases[shown:]
	}
}

func stageOf(step tracker.Step) (int, bool) {
	switch step {
	case tracker.StepPlanned:
		return 0, true
	case tracker.StepRoom, tracker.StepWaiting:
		return 1, true
	case tracker.StepOnTheWay:
		return 2, true
	case tracker.StepLab:
		return 3, true
	case tracker.StepAnswered, tracker.StepRead, tracker.StepTold:
		return 4, true
	}
	return 0, false
}

// boardCase says where a case is and since when, by its hindmost pot.
func (s *Server) boardCase(j tracker.Judgement, now time.Time) (place string, entry boardCase) {
	summary := j.Summary
	clinic := summary.Name.Clinic()
	zone := s.o.Board.Zone(clinic)
	entry = boardCase{Code: summary.Name.Printed(), Href: trailURL(summary.Name), rank: 3, since: summary.Last}
	for _, f := range j.Findings.Flags {
		if f.Severity != tracker.Watch {
			entry.Worst, entry.rank = f.Severity, f.Severity.Rank()
			break
		}
	}
	switch summary.Step {
	case tracker.StepPlanned:
		entry.since = summary.Planned
		if summary.Planned.IsZero() {
			return s.placeOf(clinic, summary.Room), entry
		}
		entry.Detail = say.Instant(summary.Planned, zone, now)
		return s.placeOf(clinic, summary.Room), entry
	case tracker.StepRoom:
		entry.Detail = roomDetail(summary)
		return s.placeOf(clinic, summary.Room), entry
	case tracker.StepAnswered:
		entry.Detail = "since " + say.Briefly(summary.Last, zone, now)
		return "to be read", entry
	case tracker.StepRead:
		entry.Detail = "since " + say.Briefly(summary.Last, zone, now)
		return "read, patient to be told", entry
	case tracker.StepTold:
		entry.Detail = "since " + say.Briefly(summary.Last, zone, now)
		return "told, to be closed", entry
	}
	for _, p := range summary.Pots {
		if p.Place == "" || !entry.since.IsZero() && place != "" && !p.Since.Before(entry.since) {
			continue
		}
		place, entry.since = p.Place, p.Since
	}
	entry.Detail = say.Count(len(summary.Pots), "pot")
	if place == "" {
		place = summary.Room
	} else {
		entry.Detail += " since " + say.Briefly(entry.since, zone, now)
	}
	if summary.Step == tracker.StepWaiting {
		entry.Detail += ", to be collected"
	}
	if summary.Step == tracker.StepWaiting && place == "" {
		return noPlaceWord, entry
	}
	return s.placeOf(clinic, place), entry
}

func roomDetail(summary tracker.Summary) string {
	taken, potted := 0, 0
	for _, p := range summary.Pots {
		taken, potted = taken+p.Taken, potted+p.Potted
	}
	switch {
	case taken == 0:
		return "no piece yet"
	case taken > potted:
		return say.Count(taken-potted, "piece") + " out"
	}
	return say.Count(taken, "piece") + ", all in"
}

// placeOf is a place as the page calls it: the clinic first, since each clinic has its own rooms, but laboratories are
// shared.
func (s *Server) placeOf(clinic, place string) string {
	if place == "" {
		return clinic + ", " + noPlaceWord
	}
	return clinic + ", " + s.o.Board.PlaceName(clinic, place)
}
