package demo

import (
	"crypto/sha256"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/pottrail/pottrail/tracker"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// adoptProtocols gives each clinic a protocol of its own, made from the default, and puts it in force before anything
// else happens.
func (w *world) adoptProtocols() error {
	for _, cl := range w.clinics {
		text, err := protocolText(cl, protocol.Default().Text)
		if err != nil {
			return err
		}
		w.out.Protocols[cl.Key] = text
		w.out.Clinics = append(w.out.Clinics, cl.Clinic)
		at := w.days.at(w.days.working(w.first, -20), hm(9, 0)).Add(time.Duration(cl.index) * time.Minute)
		w.add(at, cl.Key, cl.operators[0], "desk-"+strings.ToLower(cl.Key), &tracker.ProtocolAdopted{SHA256: fmt.Sprintf("%x", sha256.Sum256([]byte(text))), Text: text})
	}
	return nil
}

// protocolText is the default with the clinic's title, places, runs and telephone numbers.
func protocolText(cl *clinic, text string) (string, error) {
	var places, contacts strings.Builder
	number := 20
	place := func(key, name, role string) {
		fmt.Fprintf(&places, "%s = { name = %q, role = %q, contact = \"%s%d\" }\n", key, name, role, cl.telephone, number)
		number++
	}
	places.WriteString("[places]\n")
	for i := range cl.rooms {
		place(fmt.Sprintf("room-%d", i+1), fmt.Sprintf("room %d", i+1), "room")
	}
	place(cl.onCall, "room "+strings.TrimPrefix(cl.onCall, "room-")+" (unplanned cases)", "room")
	place("hatch", "the hatch", "hatch")
	place("fridge", "the fridge at the hatch", "fridge")
	place("van", "the van", "vehicle")
	fmt.Fprintf(&places, "%s = { name = \"Tarn Road reception\", role = \"laboratory\", contact = \"01632 960 900\", hours = \"tarn-road\" }\n", labReception)
	fmt.Fprintf(&places, "%s = { name = \"Tarn Road processor\", role = \"laboratory\", contact = \"01632 960 910\" }\n", labProcessor)
	contacts.WriteString("[contacts]\n")
	for i, role := range []string{"operator", "clinician", "coordinator", "porter", "administrator"} {
		fmt.Fprintf(&contacts, "%s = \"%s0%d\"\n", role, cl.telephone, i+1)
	}
	contacts.WriteString("laboratory = \"01632 960 900\"\n")
	runs := fmt.Sprintf(`[runs.%s]
place = %q
days = ["mon", "tue", "wed", "thu", "fri"]
cutoff = %q
load = %q
leaves = %q
source = "the laboratory's timetable, invented"

[runs.%s]
place = %q
days = ["mon", "tue", "wed", "thu", "fri"]
cutoff = %q
load = %q
leaves = %q
source = "the laboratory's timetable, invented"
`, runDay, labProcessor, dayCutoff, dayLoad, dayLeaves, runEvening, labProcessor, benchEnds, eveningLoad, eveLeaves)
	for _, change := range []struct{ head, with string }{{"[places]", places.String()}, {"[contacts]", contacts.String() + "\n" + runs + "\n" + way(cl)},
		{"[staff]", staff(cl)}} {
		changed, ok := replaceTable(text, change.head, change.with)
		if !ok {
			return "", fmt.Errorf("%w: the default protocol has no line %q", ErrOptions, change.head)
		}
		text = changed
	}
	changed, ok := replaceLine(text, "title = ", fmt.Sprintf("title = %q", cl.Name+" clinic and Tarn Road laboratory (invented)"))
	if !ok {
		return "", fmt.Errorf("%w: the default protocol has no title", ErrOptions)
	}
	return changed, nil
}

// way is the timetable between the clinic and the laboratory: vans, earlier ones on Fridays, and when Tarn Road is open.
func way(cl *clinic) string {
	var out strings.Builder
	for _, round := range []struct {
		key, days string
		departs   []clock
	}{{"van", `"mon", "tue", "wed", "thu"`, cl.vans}, {"friday-van", `"fri"`, cl.shortVans}} {
		departs := make([]string, len(round.departs))
		for i, c := range round.departs {
			departs[i] = fmt.Sprintf("%q", c)
		}
		fmt.Fprintf(&out, "[rounds.%s]\nfrom = \"hatch\"\nto = %q\ndays = [%s]\ndeparts = [%s]\ntakes = \"%dm\"\nsource = \"the courier's timetable, invented\"\n\n",
			round.key, labReception, round.days, strings.Join(departs, ", "), int(cl.travel.Minutes()))
	}
	hours := func(key, from, to string) {
		fmt.Fprintf(&out, "[hours.%s]\n", key)
		for _, day := range []string{"mon", "tue", "wed", "thu", "fri"} {
			fmt.Fprintf(&out, "%s = [\"%s-%s\"]\n", day, from, to)
		}
		out.WriteString("source = \"the laboratory's handbook, invented\"\n\n")
	}
	hours("tarn-road", "07:30", "19:00")
	hours("fresh-bench", "08:00", "18:00")
	fmt.Fprintf(&out, "[benches.fresh]\nname = \"the bench for fresh tissue\"\nplace = %q\nhours = \"fresh-bench\"\nstudies = [\"flow\", \"karyotype\", \"culture\", \"tb\"]\nsource = \"the laboratory's handbook, invented\"\n\n", labReception)
	return out.String()
}

// staff says who has which role.
func staff(cl *clinic) string {
	var out strings.Builder
	out.WriteString("[staff]\n")
	for _, role := range []struct {
		key  string
		list []string
	}{
		{"operator", append(slices.Clone(cl.operators), cl.nurses...)},
		{"clinician", cl.operators},
		{"porter", append(slices.Clone(cl.porters), cl.courier)},
		{"laboratory", append([]string{labClerk, labScientist, labBench}, pathologists()...)},
		{"coordinator", []string{cl.desk}},
	} {
		keys := make([]string, len(role.list))
		for i, key := range role.list {
			keys[i] = fmt.Sprintf("%q", key)
		}
		fmt.Fprintf(&out, "%s = [%s]\n", role.key, strings.Join(keys, ", "))
	}
	return out.String()
}

// String is the clock as a protocol writes it, "16:00".
func (c clock) String() string { return fmt.Sprintf("%02d:%02d", int(c)/60, int(c)%60) }

// replaceTable puts other lines in place of a table's heading and its entries, up to the next blank line, comment or
// heading.
func replaceTable(text, head, with string) (string, bool) {
	lines := strings.Split(text, "\n")
	for i, line := range lines {
		if line != head {
			continue
		}
		end := i + 1
		for end < len(lines) && lines[end] != "" && lines[end][0] != '#' && lines[end][0] != '[' {
			end++
		}
		return strings.Join(lines[:i], "\n") + "\n" + with + strings.Join(lines[end:], "\n"), true
	}
	return text, false
}

// replaceLine puts another line in place of the first that begins so.
func replaceLine(text, begins, with string) (string, bool) {
	lines := strings.Split(text, "\n")
	for i, line := range lines {
		if strings.HasPrefix(line, begins) {
			lines[i] = with
			return strings.Join(lines, "\n"), true
		}
	}
	return text, false
}
