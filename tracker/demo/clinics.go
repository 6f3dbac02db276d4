package demo

import "time"

// clinic is one clinic: its rooms and their lists, its rounds and vans, its people.
type clinic struct {
	Clinic
	index      int
	rooms      []room
	onCall     string  // room for unplanned cases
	rounds     []clock // a porter brings what is ready from the rooms to the hatch
	vans       []clock // the courier leaves
	shortRound []clock // on a day before a day off
	shortVans  []clock
	travel     time.Duration // to the laboratory
	perDay     int           // serials in a usual day, to start the year's series at a likely number
	telephone  string        // first digits; invented
	operators  []string
	nurses     []string
	porters    []string
	courier    string
	desk       string // coordinator
}

// room is a procedure room with its list.
type room struct {
	key     string
	starts  []clock // of the slots
	shorter int     // how many of them on a day before a day off
	fill    int     // of a hundred slots
}

// The laboratory: its people and when it works.
const (
	labReception = "lab-reception"
	labProcessor = "lab-processor"
	labClerk     = "clerk.ilves"
	labScientist = "scientist.baro"
	labBench     = "scientist.okkonen"
	runDay       = "day"
	runEvening   = "evening"

	labOpens    = clock(8*60 + 20) // description bench
	dayCutoff   = clock(10 * 60)
	dayLoad     = clock(10*60 + 30)
	dayLeaves   = clock(15*60 + 30)
	benchEnds   = clock(17 * 60) // the evening run's cut-off
	eveningLoad = clock(18*60 + 30)
	eveLeaves   = clock(30) // the next day
)

// pathologists report; their keys are by no one's name.
func pathologists() []string { return []string{"dr.sundgren", "dr.moyo", "dr.petrakis"} }

// clinics are the three of the network. Names and telephone numbers are invented; 01632 960 is a range kept free for
// fiction (Ofcom, telephone numbers for use in TV and radio drama programmes; from memory).
func clinics() []*clinic {
	return []*clinic{
		{Clinic: Clinic{"MBY", "Marram Bay"}, index: 0, perDay: 9, telephone: "01632 960 1",
			rooms: []room{
				{"room-1", []clock{hm(8, 45), hm(9, 30), hm(10, 15), hm(11, 0), hm(11, 45), hm(13, 30), hm(14, 15), hm(15, 0)}, 6, 36},
				{"room-2", []clock{hm(8, 45), hm(9, 30), hm(10, 15), hm(11, 0), hm(11, 45), hm(13, 30), hm(14, 15), hm(15, 0)}, 6, 36},
			}, onCall: "room-3",
			rounds: []clock{hm(10, 40), hm(12, 40), hm(14, 40), hm(16, 5)}, vans: []clock{hm(13, 0), hm(16, 30)},
			shortRound: []clock{hm(10, 40), hm(12, 40), hm(14, 40)}, shortVans: []clock{hm(13, 0), hm(15, 5)}, travel: 35 * time.Minute,
			operators: []string{"dr.varga", "dr.amadi", "dr.holmqvist"}, nurses: []string{"nurse.osei", "nurse.tamm", "nurse.quaye"},
			porters: []string{"porter.lund", "porter.brek"}, courier: "courier.dace", desk: "desk.ferreiro"},
		{Clinic: Clinic{"HCX", "Hollin Cross"}, index: 1, perDay: 6, telephone: "01632 960 4",
			rooms: []room{
				{"room-1", []clock{hm(9, 0), hm(9, 45), hm(10, 30), hm(11, 15), hm(13, 15), hm(14, 0), hm(14, 45)}, 5, 50},
			}, onCall: "room-2",
			rounds: []clock{hm(10, 50), hm(12, 30), hm(14, 20), hm(15, 50)}, vans: []clock{hm(12, 50), hm(16, 10)},
			shortRound: []clock{hm(10, 50), hm(12, 30), hm(14, 20)}, shortVans: []clock{hm(12, 50), hm(15, 0)}, travel: 25 * time.Minute,
			operators: []string{"dr.kallas", "dr.njoku"}, nurses: []string{"nurse.brandt", "nurse.sato"},
			porters: []string{"porter.ruun"}, courier: "courier.dace", desk: "desk.lindahl"},
		{Clinic: Clinic{"SGN", "Saltern Green"}, index: 2, perDay: 4, telephone: "01632 960 7",
			rooms: []room{
				{"room-1", []clock{hm(9, 30), hm(10, 15), hm(11, 0), hm(13, 0), hm(13, 45)}, 4, 45},
			}, onCall: "room-2",
			rounds: []clock{hm(12, 0), hm(14, 40)}, vans: []clock{hm(15, 0)},
			shortRound: []clock{hm(12, 0), hm(14, 25)}, shortVans: []clock{hm(14, 45)}, travel: 70 * time.Minute,
			operators: []string{"dr.virtanen", "dr.abara"}, nurses: []string{"nurse.mikkola", "nurse.dlamini"},
			porters: []string{"porter.hauge"}, courier: "courier.stam", desk: "desk.orban"},
	}
}
