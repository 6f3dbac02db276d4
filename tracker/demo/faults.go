package demo

import "time"

// The clinics by index, for the lists below.
const (
	mby = iota
	hcx
	sgn
)

// bookFaults gives the faults of real days their places, before the ordinary lists fill the rest. Days are working days
// before the recent one.
func (w *world) bookFaults() {
	w.bookOpenFaults()
	w.bookSettledFaults()
}

// bookOpenFaults books what is still open at now.
func (w *world) bookOpenFaults() {
	// In the room, on the last morning.
	w.place(0, mby, 0, 1, softTissue, nil, twist{look: "grey-brown"})
	w.place(0, mby, 0, 2, breastMass, malignant, twist{untimed: true})
	w.place(0, mby, 1, 1, breastMass, malignant, twist{stray: 68 * time.Minute})
	w.place(0, hcx, 0, 1, breastMass, benign, twist{leftOver: true})
	w.place(0, mby, 1, 2, breastMass, benign, twist{oldCopy: true})
	w.place(0, sgn, 0, 2, breastMass, benign, twist{roomOpen: true})
	w.block(sgn, 0, 3, w.back(0))
	w.place(0, hcx, 0, 2, axillaryNode, benign, twist{ownReadBack: true})

	// On the way and at the laboratory.
	w.place(1, mby, 0, 4, breastAxilla, nil, twist{missing: true})
	w.place(2, mby, 1, 0, breastMass, benign, twist{lost: true})
	w.place(1, hcx, 0, 0, breastMass, benign, twist{refused: "mismatch"})
	w.place(1, mby, 1, 3, breastMass, malignant, twist{counted: -1})
	w.place(4, mby, 0, 0, breastMass, malignant, twist{short: true})
	w.bookFriday(0, false)

	// The answer.
	w.place(8, mby, 0, 3, breastMass, benign, twist{result: w.days.at(w.back(3), hm(10, 20)), unread: true})
	w.place(13, hcx, 0, 1, breastMass, benign, twist{result: w.days.at(w.back(9), hm(11, 10)), untold: true})
	w.place(12, mby, 1, 1, breastMass, benign, twist{noResult: true})
	w.place(9, sgn, 0, 0, axillaryNode, urgent, twist{noResult: true})
	w.place(16, mby, 0, 1, breastMass, benign, twist{result: w.days.at(w.back(12), hm(10, 5)), amended: w.days.at(w.back(1), hm(10, 40))})
	w.place(5, hcx, 0, 3, breastMass, disagreeing, twist{result: w.days.at(w.back(1), hm(11, 30)), apart: true})
	w.place(4, sgn, 0, 1, breastMass, uncertain, twist{result: w.days.at(w.back(1), hm(10, 50)), waiting: true})
}

// bookSettledFaults books what somebody has mended or answered since.
func (w *world) bookSettledFaults() {
	w.place(6, mby, 0, 2, breastMass, benign, twist{early: true, settled: true})
	w.place(7, sgn, 0, 0, breastMass, benign, twist{expired: true, settled: true})
	w.place(9, hcx, 0, 2, breastMass, benign, twist{ownReadBack: true, settled: true})
	w.place(10, mby, 1, 2, breastMass, malignant, twist{stray: 74 * time.Minute, settled: true})
	w.place(14, hcx, 0, 1, breastMass, benign, twist{stray: 66 * time.Minute, settled: true})
	w.place(11, mby, 0, 0, breastMass, benign, twist{leftOver: true, settled: true})
	w.place(5, mby, 1, 0, axillaryNode, benign, twist{lost: true, settled: true})
	w.place(7, hcx, 0, 0, breastMass, benign, twist{refused: "no-request", settled: true})
	w.place(8, hcx, 0, 3, axillaryNode, benign, twist{counted: -1, settled: true})
	w.place(10, sgn, 0, 2, breastMass, benign, twist{miscount: true, settled: true})
	w.place(3, mby, 0, 1, breastMass, benign, twist{queried: true, settled: true})
	w.place(15, sgn, 0, 1, breastMass, benign, twist{late: 52 * time.Hour, settled: true})
	w.place(18, mby, 0, 2, breastMass, benign, twist{unreadFor: 4, settled: true})
	w.place(20, mby, 1, 3, breastMass, benign, twist{untoldFor: 7, settled: true})
	w.place(24, hcx, 0, 2, breastMass, benign, twist{untoldFor: 6, settled: true})
	w.place(22, sgn, 0, 0, breastMass, benign, twist{late: 28 * time.Hour, settled: true})
	w.bookFriday(2, true)
	if first := w.place(16, hcx, 0, 0, breastMass, disagreeing, twist{apartSeen: true, settled: true}); first != nil {
		if again := w.place(9, hcx, 0, 0, breastMass, malignant, twist{asked: first}); again != nil {
			again.repeatOf = first
			again.opened = w.days.at(w.back(10), hm(16, 5))
			again.ask.lesions[0].Side, again.ask.lesions[0].Position = first.ask.lesions[0].Side, first.ask.lesions[0].Position
		}
	}
	// The first lesion's cores go into the second's pot, and the pot is given the first's name.
	w.place(12, hcx, 0, 2, breastAxilla, func(r *request) { r.pots[1].Pieces = 4 }, twist{relabel: true})
	// Out of the ordinary, and no flag comes of it.
	if c := w.place(9, sgn, 0, 1, breastMass, benign, twist{roll: true}); c != nil {
		c.roll = &roll{clinic: c.clinic, at: w.days.at(w.back(11), hm(9, 25))}
		w.rolls = append(w.rolls, c.roll)
	}
	w.place(13, mby, 1, 0, breastMass, benign, twist{reopened: true})
}

// bookFriday books a case at the end of a day before a day off whose list ran on until the last van had gone. Its pot lies
// in formalin until the first run after the days off: too long for receptors.
func (w *world) bookFriday(n int, settled bool) {
	day := w.lastShort(n)
	if day.Before(w.first) {
		return
	}
	clinic := w.clinics[hcx]
	number := len(clinic.rooms[0].starts) - 1 // 14:45, after the list
	s := w.slot(clinic, day, 0, number)
	ask := ordinaryRequest(newChance(w.seed, w.stream(s), 0), breastMass)
	malignant(&ask)
	w.taken[s] = true
	c := w.course(clinic, clinic.rooms[0].key, w.stream(s), w.days.at(day, hm(15, 14)), ask, twist{overnight: true, settled: settled})
	c.opened = w.days.at(day, hm(9, 12))
}

// malignant makes a breast case one that is.
func malignant(r *request) {
	*r = breastRequest("U5", answer{category: "B5b", text: "Invasive carcinoma of no special type, grade 2."}, true)
}

// benign makes a breast case one that is; other sorts stay as they were drawn.
func benign(r *request) {
	if r.sort == breastMass {
		*r = breastRequest("U2", answer{category: "B2", text: "Fibroadenoma."}, false)
		return
	}
	r.serious, r.priority, r.outcome, r.plan = false, "routine", "discharged", "discharge"
	r.answers[0].category, r.answers[0].text = "L2", "Reactive node."
}

func urgent(r *request) {
	benign(r)
	r.priority = "urgent"
}

// disagreeing is benign although imaging is highly suspicious.
func disagreeing(r *request) {
	*r = breastRequest("U5", answer{category: "B2", text: "Fibrocystic change."}, false)
}

// uncertain is a result that a meeting must look at.
func uncertain(r *request) {
	*r = breastRequest("U3", answer{category: "B3b", text: "Papillary lesion with atypia."}, false)
	r.unsure, r.outcome, r.plan = flagNeedsMeeting, "review", "review"
}

func breastRequest(imaging string, final answer, serious bool) request {
	c := newChance(1, uint64(len(imaging)), uint64(imaging[1]))
	l := breastIn(c, "L1")
	l.Imaging = imaging
	final.stage = "final"
	r := request{sort: breastMass, priority: "routine", what: "core", gauge: 14, outcome: "discharged", plan: "discharge", serious: serious,
		clinical: "Lump felt for three weeks.", answers: []answer{final}}
	l.SizeMM = 17
	r.lesions = append(r.lesions, l)
	studies := []string{"histology"}
	if serious {
		r.priority, r.outcome, r.plan = "urgent", "treatment", "treat"
		studies = append(studies, "receptors")
		r.answers = append(r.answers, answer{pots: []string{"A"}, due: dueAddendum, studies: []string{"receptors"}, stage: "addendum", text: "ER 8/8, PR 6/8, HER2 1+."})
	}
	r.pots = append(r.pots, pot("A", "L1", "formalin", 4, "cassette", studies...))
	return r
}
