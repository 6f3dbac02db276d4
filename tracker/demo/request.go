package demo

import "github.com/pottrail/pottrail/tracker"

// sort of case: what is biopsied and which studies are wanted.
type sort int

const (
	breastMass sort = iota
	breastAxilla
	breastCalcium
	axillaryNode
	nodeFlow
	nodeCulture
	nodeSmear
	thyroid
	softTissue
)

// answer is one result to come.
type answer struct {
	pots     []string // letters; none: the whole case
	due      due
	studies  []string // none: histology or cytology
	category string
	text     string
	stage    tracker.Stage
}

// due says when an answer comes.
type due int

const (
	dueMain     due = iota
	dueAddendum     // after the main one
	dueFlow         // a day or two after the bench
	dueCulture      // about six days
	dueSlow         // four weeks: mycobacteria
	dueSameDay      // provisional
)

// request is what is asked for in one case, with what it will show.
type request struct {
	sort     sort
	priority string
	lesions  []tracker.Lesion
	pots     []tracker.PlannedPot
	what     string // "core" or "aspirate"
	gauge    float64
	hazard   []string
	clinical string
	answers  []answer
	serious  bool   // malignant
	added    bool   // receptors are asked for only when the final says so
	middling string // imaging of middle suspicion with a benign answer: the flag that follows
	unsure   tracker.FlagKind
	outcome  string
	plan     string
}

// Flag kinds of the contract whose rules may not be in force yet.
const (
	flagBagShort      tracker.FlagKind = "bag-short"
	flagWillBeLong    tracker.FlagKind = "fixation-will-be-long"
	flagHandoffGap    tracker.FlagKind = "handoff-gap"
	flagLabQueried    tracker.FlagKind = "lab-queried"
	flagInadequate    tracker.FlagKind = "sample-inadequate"
	flagNeedsMeeting  tracker.FlagKind = "needs-meeting"
	flagRoomShared    tracker.FlagKind = "room-shared"
	flagCollectionDue tracker.FlagKind = "collection-late"
)

// drawSort draws what is biopsied, in about the shares of a breast, neck and soft tissue service. Common practice, no
// source.
func drawSort(c chance) sort {
	shares := []struct {
		sort sort
		of   int
	}{{breastMass, 38}, {breastAxilla, 11}, {breastCalcium, 10}, {axillaryNode, 7}, {nodeFlow, 9}, {nodeCulture, 4}, {nodeSmear, 3}, {thyroid, 11}, {softTissue, 7}}
	n := c.IntN(100)
	for _, s := range shares {
		if n < s.of {
			return s.sort
		}
		n -= s.of
	}
	return breastMass
}

// drawRequest invents a request of a sort. An ordinary one has imaging and result that go together; a few have an
// uncertain or inadequate result, or imaging of middle suspicion with a benign one, which a meeting must settle.
func drawRequest(c chance, s sort) request {
	r := request{sort: s, priority: "routine", what: "core", gauge: 14, outcome: "discharged", plan: "discharge"}
	switch s {
	case breastMass, breastAxilla, breastCalcium:
		r.breast(c)
	case axillaryNode:
		r.gauge = 14
		r.lesions = []tracker.Lesion{nodeIn(c, "axillary-node", "L1")}
		r.pots = []tracker.PlannedPot{pot("A", "L1", "formalin", c.number(3, 4), "cassette", "histology")}
		r.node(c, answer{category: oneOf(c, "L2", "L2", "L5")})
		r.clinical = "Axillary node with a thick cortex on ultrasound."
	case nodeFlow:
		r.gauge = 16
		r.lesions = []tracker.Lesion{nodeIn(c, "node", "L1")}
		r.pots = []tracker.PlannedPot{pot("A", "L1", "formalin", 4, "cassette", "histology", "stains"), pot("B", "L1", "rpmi", 2, "loose", "flow")}
		r.node(c, answer{pots: []string{"A"}, studies: []string{"histology", "stains"}, category: oneOf(c, "L2", "L5")})
		r.answers = append(r.answers, answer{pots: []string{"B"}, due: dueFlow, studies: []string{"flow"}, text: oneOf(c, "No clonal B-cell population.", "See the histology for the whole answer.")})
		r.clinical = "Enlarged nodes of the neck for six weeks. Lymphoma?"
		r.priority = oneOf(c, "urgent", "routine")
	case nodeCulture:
		r.gauge = 16
		r.lesions = []tracker.Lesion{nodeIn(c, "node", "L1")}
		r.pots = []tracker.PlannedPot{pot("A", "L1", "formalin", 3, "cassette", "histology"), pot("B", "L1", "saline", 2, "loose", "culture", "tb")}
		r.node(c, answer{pots: []string{"A"}, category: "L2", text: "Granulomatous inflammation."})
		r.answers = append(r.answers, answer{pots: []string{"B"}, due: dueCulture, studies: []string{"culture"}, text: "No growth."},
			answer{pots: []string{"B"}, due: dueSlow, studies: []string{"tb"}, text: "Mycobacteria not grown in four weeks."})
		r.hazard = []string{"tb"}
		r.clinical = "Fluctuant node, night sweats. Tuberculosis?"
	case nodeSmear:
		r.what, r.gauge, r.priority = "aspirate", 23, "next-day"
		r.lesions = []tracker.Lesion{nodeIn(c, "node", "L1")}
		r.pots = []tracker.PlannedPot{pot("A", "L1", "slides-fixed", 3, "slide", "cytology")}
		r.answers = []answer{{due: dueSameDay, stage: tracker.StageProvisional, category: "L2"}, {category: "L2", text: "Reactive node."}}
		r.clinical = "Tender node under the jaw."
		r.priority = "next-day"
	case thyroid:
		r.thyroid(c)
	case softTissue:
		r.gauge = 14
		r.lesions = []tracker.Lesion{{Key: "L1", Organ: "soft-tissue", Side: oneOf(c, "left", "right"), Position: oneOf(c, "thigh", "upper arm", "calf", "shoulder", "flank"),
			SizeMM: float64(c.number(25, 90)), Target: "mass"}}
		r.pots = []tracker.PlannedPot{pot("A", "L1", "formalin", 4, "loose", "histology", "stains")}
		r.answers = []answer{{studies: []string{"histology", "stains"}, text: oneOf(c, "Lipoma.", "Nodular fasciitis.", "Schwannoma.", "Fat necrosis.")}}
		r.clinical = "Deep lump, growing for three months."
	}
	for i := range r.answers {
		if r.answers[i].stage == "" {
			r.answers[i].stage = tracker.StageFinal
		}
	}
	return r
}

func pot(letter, lesion, medium string, pieces int, carrier string, studies ...string) tracker.PlannedPot {
	return tracker.PlannedPot{Pot: letter, Lesion: lesion, Medium: medium, Studies: studies, Pieces: pieces, Carrier: carrier, To: labReception}
}

func nodeIn(c chance, organ, key string) tracker.Lesion {
	l := tracker.Lesion{Key: key, Organ: organ, Side: oneOf(c, "left", "right"), SizeMM: float64(c.number(9, 34)), Target: "node"}
	if organ == "node" {
		l.Position = oneOf(c, "neck, level II", "neck, level III", "neck, level V", "groin", "above the collarbone")
	}
	return l
}

func breastIn(c chance, key string) tracker.Lesion {
	return tracker.Lesion{Key: key, Organ: "breast", Side: oneOf(c, "left", "right"), Position: oneOf(c, "1", "2", "3", "4", "5", "7", "8", "9", "10", "11", "12") + " o'clock",
		FromNippleMM: float64(5 * c.number(2, 16)), SizeMM: float64(c.number(6, 38)), Target: "mass"}
}

// breast is a mass, a mass with a node beside it, or calcification.
func (r *request) breast(c chance) {
	l := breastIn(c, "L1")
	r.serious = r.sort == breastAxilla || c.percent(38)
	if r.sort == breastCalcium {
		r.serious = c.percent(30)
		l.Target, l.SizeMM = "calcification", float64(c.number(4, 45))
	}
	final := answer{category: "B2", text: oneOf(c, "Fibroadenoma.", "Fibrocystic change.", "Sclerosing adenosis.", "Duct ectasia.")}
	studies := []string{"histology"}
	switch {
	case r.serious:
		r.priority, r.outcome, r.plan = "urgent", oneOf(c, "treatment", "surgery", "treatment", "referred"), "treat"
		l.Imaging = oneOf(c, "U5", "U5", "U4", "BI-RADS 5", "BI-RADS 4C")
		final = answer{category: "B5b", text: "Invasive carcinoma of no special type, grade " + oneOf(c, "1", "2", "2", "3") + "."}
		studies = append(studies, "receptors")
		if r.sort == breastCalcium {
			l.Imaging = oneOf(c, "M4", "M5")
			final = answer{category: "B5a", text: "Ductal carcinoma in situ, high grade."}
		} else if r.sort == breastMass && c.percent(12) {
			l.Imaging, r.priority, r.added = "U3", "routine", true
			studies = studies[:1]
		}
	case r.sort == breastCalcium:
		l.Imaging = "M3"
		final.text = oneOf(c, "Fibrocystic change with calcification.", "Involuted fibroadenoma with calcification.")
	default:
		l.Imaging = oneOf(c, "U2", "U2", "M2", "BI-RADS 3")
		if c.percent(12) {
			l.Imaging = oneOf(c, "U3", "BI-RADS 4A")
			r.middling = l.Imaging
		}
	}
	if !r.serious && c.percent(9) {
		final.category, final.text = oneOf(c, "B3a", "B3b"), "Papillary lesion; atypia cannot be judged here."
		r.unsure, r.outcome, r.plan = flagNeedsMeeting, "review", "review"
		r.middling = ""
		l.Imaging = "U3"
	}
	r.lesions = []tracker.Lesion{l}
	r.clinical = oneOf(c, "Lump felt for three weeks.", "Found at screening.", "New lump, no skin change.", "Recalled from screening.")
	switch r.sort {
	case breastMass:
		r.pots = []tracker.PlannedPot{pot("A", "L1", "formalin", c.number(4, 5), "cassette", studies...)}
	case breastCalcium:
		r.pots = []tracker.PlannedPot{pot("A", "L1", "formalin", 3, "cassette", studies...), pot("B", "L1", "formalin", 3, "cassette", "histology")}
	case breastAxilla:
		node := nodeIn(c, "axillary-node", "L2")
		node.Side = l.Side
		r.lesions = append(r.lesions, node)
		r.pots = []tracker.PlannedPot{pot("A", "L1", "formalin", 4, "cassette", studies...), pot("B", "L2", "formalin", 3, "cassette", "histology")}
		final.pots = []string{"A"}
		r.answers = append(r.answers, answer{pots: []string{"B"}, category: oneOf(c, "L5", "L2"), text: "Axillary node, see category."})
	}
	r.answers = append([]answer{final}, r.answers...)
	if r.serious {
		r.answers = append(r.answers, answer{pots: []string{"A"}, due: dueAddendum, studies: []string{"receptors"}, stage: tracker.StageAddendum,
			text: oneOf(c, "ER 8/8, PR 7/8, HER2 1+.", "ER 8/8, PR 4/8, HER2 0.", "ER 0/8, PR 0/8, HER2 3+.", "ER 7/8, PR 8/8, HER2 2+.")})
	}
}

// node fills in the main answer of a node.
func (r *request) node(c chance, main answer) {
	if main.text == "" {
		main.text = "Reactive node."
	}
	if main.category == "L5" {
		r.serious, r.priority, r.outcome, r.plan = true, "urgent", oneOf(c, "referred", "treatment"), "refer"
		main.text = "Malignant, see the full report."
		if r.plan == "refer" && r.outcome == "treatment" {
			r.plan = "treat"
		}
	}
	r.answers = []answer{main}
}

// thyroid is an aspiration: two passes, each spread wet-fixed and air-dried, the needle rinsed into a vial.
func (r *request) thyroid(c chance) {
	r.what, r.gauge = "aspirate", 25
	r.lesions = []tracker.Lesion{{Key: "L1", Organ: "thyroid", Side: oneOf(c, "left", "right"), Position: oneOf(c, "upper pole", "mid lobe", "lower pole"),
		SizeMM: float64(c.number(11, 42)), Target: "mass", Imaging: "U2"}}
	final := answer{category: oneOf(c, "Thy2", "Thy2", "Thy2c"), text: "Colloid and benign follicular cells."}
	switch n := c.IntN(100); {
	case n < 8:
		final.category, final.text = oneOf(c, "Thy3a", "Thy3f"), "Follicular cells with atypia; see recommendation."
		r.unsure, r.outcome, r.plan, r.lesions[0].Imaging = flagNeedsMeeting, "review", "review", "U3"
	case n < 14:
		final.category, final.text = "Thy1", "Too few follicular cells."
		r.unsure, r.outcome, r.plan = flagInadequate, "review", "review"
	case n < 20:
		final.category, final.text = "Thy5", "Papillary carcinoma."
		r.serious, r.priority, r.outcome, r.plan, r.lesions[0].Imaging = true, "urgent", "surgery", "treat", "U5"
	}
	r.pots = []tracker.PlannedPot{pot("A", "L1", "slides-fixed", 2, "slide", "cytology"), pot("B", "L1", "slides-dried", 2, "slide", "cytology"),
		pot("C", "L1", "vial", 2, "loose", "cytology")}
	r.answers = []answer{final}
	r.clinical = "Nodule in the thyroid, normal hormone levels."
}
