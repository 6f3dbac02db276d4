package tracker_test

import (
	"strings"
	"sync"

	"github.com/pottrail/pottrail/tracker"
)

// verb is one way of saying an event in a scenario: the words at the start of its line, and the words that bring its
// data. Fields are spelled "word=member:shape", units "unit=member" and words "member=word,word".
type verb struct {
	says            string
	kind            tracker.Kind
	person, station string // unless the line says by whom and on which station
	about           string // what it is about when the line names nothing
	base            string // data unless the line says otherwise, as JSON
	fields          string
	units           string
	words           string
	lists           bool // segments for lesions and pots may follow
}

// shape is how many words a member takes and how they are read.
type shape string

const (
	shapeWord    shape = "word"    // one word, or a text in quotes
	shapeNumber  shape = "number"  // a number
	shapeName    shape = "name"    // one thing
	shapeNames   shape = "names"   // things, or "none"
	shapeList    shape = "list"    // words, up to the next word that means something
	shapeInstant shape = "instant" // a time of day, a day before it or not
	shapeResults shape = "results" // labels of lines above
	shapeNo      shape = "no"      // the word alone: false
	shapeYes     shape = "yes"     // the word alone: true
)

// Who does what, and where, unless a line says otherwise.
const (
	roomPerson, roomStation = "nurse.osei", "room-2"
	wayPerson, wayStation   = "porter.ruiz", "phone-3"
	labPerson, labStation   = "tech.lund", "lab-bench"
	deskPerson, deskStation = "dr.marsh", "desk-1"
)

const requestFields = "in=room:word planned=planned:instant order=order:word clinical=clinical:word hazard=hazard:list repeat-of=repeat_of:name patient=patient:word"

var verbs = []verb{
	{says: "opened", kind: tracker.KindCaseOpened, person: roomPerson, station: roomStation, about: "case", lists: true,
		base: `{"patient":"p-4c1a","priority":"routine","room":"room-2"}`, fields: "priority=priority:word " + requestFields, words: "priority=routine,urgent,next-day"},
	{says: "amended", kind: tracker.KindCaseAmended, person: roomPerson, station: roomStation, about: "case", lists: true,
		base: `{"why":"as the clinician asked"}`, fields: "because=why:word priority=priority:word " + requestFields, words: "priority=routine,urgent,next-day"},
	{says: "identity checked", kind: tracker.KindPatientChecked, person: roomPerson, station: roomStation, about: "case",
		base:   `{"identifiers":["name","birth-date"],"confirmed":["side","site","consent"],"room":"room-2"}`,
		fields: "by-asking=identifiers:list confirmed=confirmed:list with=with:word in=room:word"},
	{says: "printed", kind: tracker.KindLabelPrinted, person: roomPerson, station: roomStation, base: `{"copy":"1"}`,
		fields: "replaces=replaces:word printer=printer:word layout=layout:word"},
	{says: "spoiled", kind: tracker.KindLabelSpoiled, person: roomPerson, station: roomStation, base: `{"copy":"1","why":"smudged"}`, fields: "because=why:word"},
	{says: "bound", kind: tracker.KindLabelBound, person: roomPerson, station: roomStation, fields: "to=to:name"},
	{says: "taken", kind: tracker.KindPieceTaken, person: roomPerson, station: roomStation,
		base: `{"lesion":"L1","what":"core","gauge":14,"length_mm":18,"look":"firm-white"}`, fields: "of=lesion:word pass=pass:number cut-from=from:name collector=collector:word",
		units: "G=gauge mm=length_mm", words: "what=core,slide,aspirate,rinse look=firm-white,mixed,fatty,fragmented,grey-brown,blood-only,pus,fluid"},
	{says: "potted", kind: tracker.KindPiecePotted, person: roomPerson, station: roomStation, fields: "into=pot:name in=medium:word"},
	{says: "filled", kind: tracker.KindPotFilled, person: roomPerson, station: roomStation, fields: "with=medium:word lot=lot:word expires=expires:word", units: "mL=volume_ml"},
	{says: "radiograph of", kind: tracker.KindSpecimenImaged, person: roomPerson, station: roomStation, fields: "calcium=calcium:word"},
	{says: "microscopy", kind: tracker.KindAdequacyChecked, person: roomPerson, station: roomStation, about: "case", base: `{"lesion":"L1"}`,
		fields: "of=lesion:word text=text:word adequate=adequate:yes inadequate=adequate:no"},
	{says: "marker placed", kind: tracker.KindMarkerPlaced, person: roomPerson, station: roomStation, about: "case", base: `{"lesion":"L1"}`, fields: "of=lesion:word type=type:word lot=lot:word"},
	{says: "sealed", kind: tracker.KindPotSealed, person: roomPerson, station: roomStation, fields: "read-back-with=read_back_with:word", units: "pieces=pieces piece=pieces"},
	{says: "procedure ended", kind: tracker.KindProcedureEnded, person: roomPerson, station: roomStation, about: "case", fields: "because=why:word unused=unused:list", words: "outcome=done,partly,not-done"},
	{says: "room cleared", kind: tracker.KindRoomCleared, person: roomPerson, station: roomStation, about: "case", base: `{"room":"room-2"}`, fields: "in=room:word"},
	{says: "relabelled", kind: tracker.KindPotRelabelled, person: roomPerson, station: roomStation, base: `{"why":"wrong label","witness":"nurse.mora"}`, fields: "as=new:name because=why:word witness=witness:word"},

	{says: "bag packed", kind: tracker.KindBagPacked, person: roomPerson, station: roomStation, about: "bag", fields: "with=pots:names"},
	{says: "bag opened", kind: tracker.KindBagOpened, person: labPerson, station: labStation, about: "bag", fields: "found=pots:names"},
	{says: "took over", kind: tracker.KindCustodyTaken, person: wayPerson, station: wayStation, fields: "at=place:word holder=holder:word reference=reference:word",
		units: "pots=count pot=count °C=temperature_c", words: "condition=intact,leaking,damaged"},
	{says: "lost", kind: tracker.KindPotLost, person: wayPerson, station: wayStation, fields: "because=why:word at=place:word"},
	{says: "found", kind: tracker.KindPotFound, person: wayPerson, station: wayStation, fields: "because=why:word at=place:word"},
	{says: "discarded", kind: tracker.KindPotDiscarded, person: labPerson, station: labStation, fields: "because=why:word at=place:word"},

	{says: "accessioned", kind: tracker.KindLabAccessioned, person: labPerson, station: labStation, base: `{"number":"T26-1234"}`, fields: "number=number:word"},
	{says: "queried", kind: tracker.KindLabQueried, person: labPerson, station: labStation, fields: "because=why:word needs=needs:word"},
	{says: "refused", kind: tracker.KindLabRefused, person: labPerson, station: labStation, fields: "because=why:word note=note:word"},
	{says: "laboratory opened", kind: tracker.KindLabOpened, person: labPerson, station: labStation, units: "pieces=pieces piece=pieces"},
	{says: "loaded", kind: tracker.KindLabLoaded, person: labPerson, station: labStation, fields: "run=run:word leaves-formalin=leaves_formalin:instant"},
	{says: "referred", kind: tracker.KindLabReferred, person: labPerson, station: labStation, fields: "to=to:word due=due:instant", words: "what=block,slides"},
	{says: "returned", kind: tracker.KindLabReturned, person: labPerson, station: labStation, fields: "to=to:word due=due:instant", words: "what=block,slides"},
	{says: "studies added", kind: tracker.KindStudiesAdded, person: deskPerson, station: deskStation, fields: "for=studies:list"},
	{says: "result", kind: tracker.KindResultIssued, person: labPerson, station: labStation, about: "case",
		fields: "for=studies:list category=category:word text=text:word report=report:word via=via:word given-by=given_by:word critical=critical:yes read-back=read_back:yes",
		words:  "stage=provisional,final,addendum,amended"},

	{says: "seen", kind: tracker.KindResultSeen, person: deskPerson, station: deskStation, about: "case", fields: "result=results:results results=results:results"},
	{says: "discussed", kind: tracker.KindCaseDiscussed, person: deskPerson, station: deskStation, about: "case", fields: "result=results:results results=results:results plan=plan:word",
		words: "concordance=concordant,discordant,not-assessed"},
	{says: "told", kind: tracker.KindPatientTold, person: deskPerson, station: deskStation, about: "case", fields: "result=results:results results=results:results",
		words: "how=in-person,telephone,video,letter,referrer"},
	{says: "closed", kind: tracker.KindCaseClosed, person: deskPerson, station: deskStation, about: "case", fields: "as=outcome:word because=why:word"},
	{says: "reopened", kind: tracker.KindCaseReopened, person: deskPerson, station: deskStation, about: "case", base: `{"why":"something is owed"}`, fields: "because=why:word"},
	{says: "clock paused", kind: tracker.KindClockPaused, person: deskPerson, station: deskStation, base: `{"why":"waits for the first report"}`, fields: "until=until:instant because=why:word"},
	{says: "clock resumed", kind: tracker.KindClockResumed, person: deskPerson, station: deskStation, base: `{"why":"it came"}`, fields: "because=why:word"},
	{says: "chased", kind: tracker.KindChaseLogged, person: deskPerson, station: deskStation, base: `{"asked":"where it is"}`,
		fields: "asked=asked:word answer=answer:word next=next:instant level=level:number"},
	{says: "answered", kind: tracker.KindFlagAnswered, person: deskPerson, station: deskStation, base: `{"done":"asked and written down"}`, fields: "flag=flag:word done=done:word"},
	{says: "noted", kind: tracker.KindNoteAdded, person: deskPerson, station: deskStation, fields: "text=text:word"},
	{says: "struck", kind: tracker.KindEventStruck, person: deskPerson, station: deskStation, base: `{"why":"entered by mistake"}`, fields: "line=event:results because=why:word"},
	{says: "protocol adopted", kind: tracker.KindProtocolAdopted, person: deskPerson, station: deskStation},
}

// The segments that may follow a request.
var (
	lesionVerb = verb{says: "lesion", fields: `imaging=imaging:word at=position:word side=side:word`, units: "mm=size_mm mm-from-nipple=from_nipple_mm",
		words: "side=left,right target=mass,calcification,distortion,node,fluid"}
	potVerb = verb{says: "pot", base: `{"lesion":"L1"}`, fields: "of=lesion:word in=medium:word for=studies:list to=to:word", units: "pieces=pieces piece=pieces",
		words: "carrier=cassette,tube,slide,foam,loose"}
)

// member is where a word puts what follows it.
type member struct {
	name  string
	shape shape
}

// grammar is a verb made ready for reading.
type grammar struct {
	verb
	fields map[string]member
	units  map[string]string
	words  map[string]string // bare word: member
}

func (v verb) grammar() grammar {
	g := grammar{verb: v, fields: map[string]member{}, units: map[string]string{}, words: map[string]string{}}
	for _, field := range strings.Fields(v.fields) {
		word, rest, _ := strings.Cut(field, "=")
		name, form, _ := strings.Cut(rest, ":")
		g.fields[word] = member{name, shape(form)}
	}
	for _, unit := range strings.Fields(v.units) {
		word, name, _ := strings.Cut(unit, "=")
		g.units[word] = name
	}
	for _, group := range strings.Fields(v.words) {
		name, list, _ := strings.Cut(group, "=")
		for _, word := range strings.Split(list, ",") {
			g.words[word] = name
		}
	}
	return g
}

// grammars are the verbs by their words; no verb begins another.
var grammars = sync.OnceValue(func() []grammar {
	var out []grammar
	for _, v := range verbs {
		out = append(out, v.grammar())
	}
	return out
})
