package printers

import (
	"context"
	"crypto/rand"
	"errors"
	"net/http"
	"time"

	"github.com/pottrail/pottrail/labels/ipp"
)

// user is the owner that a printer shows for our jobs.
const user = "pottrail"

// Send asks the printer how it is, hands the label over, and waits until the printer says that it is done.
//
// A printer prints what it gets, at the latest when it has all of it, and some begin with the first dots. So what is
// known goes by the document alone: while not one byte of it has left, nothing was printed. Once some has left and no
// answer came, the printer is asked for a job under the name that this try gave it: the token and six letters of chance.
// If it knows none, that proves nothing, for many forget a job as soon as it ends: whether a label came out is then not
// known. Nor is it when the document broke off on its way, whatever the printer says of the job: some print what they
// got, call it done, and half a label may still have a symbol that can be read.
//
// Between us and the printer should be nothing that ends the connection and begins another: if such a thing took the
// whole label and lost a part of it and the answer, and the printer called the rest done, it would be taken for sent.
func (p *printServer) Send(ctx context.Context, j Job) error {
	if err := j.check(); err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, longest)
	defer cancel()
	able, err := p.abilities(ctx)
	if err != nil {
		return p.explain(err)
	}
	if err := able.fit(p.name, j); err != nil {
		return err
	}

	// Two tries of one label must be told apart in the printer's list.
	name := j.Token + "-" + rand.Text()[:6]
	answer, left, err := p.print(ctx, able, name, j)
	if left == stayed && err != nil {
		return p.explain(err)
	}
	if err == nil && !answer.Status().Successful() {
		err = statusError(answer.Status())
	}
	if err != nil && certain(err) {
		return p.explain(err)
	}
	w := watch{p: p, asker: able.asker, job: name, whole: left == wholly}
	if err == nil {
		w.read(answer.First(ipp.JobGroup))
	}
	if w.id == 0 {
		if found := w.find(ctx); !found {
			return unknown(p.name+" does not say what became of the label: look whether one came out", err)
		}
	}
	w.follow(ctx)
	return w.verdict()
}

// print hands the label over. It leaves a quarter of the time for asking what became of it.
func (p *printServer) print(ctx context.Context, able *abilities, name string, j Job) (*ipp.Message, departure, error) {
	if end, ok := ctx.Deadline(); ok {
		var cancel context.CancelFunc
		ctx, cancel = context.WithDeadline(ctx, end.Add(-time.Until(end)/4))
		defer cancel()
	}
	return p.exchange(ctx, able.asker.PrintJob(requestID, name, j.MediaType, able.settings(j)...), j.Body)
}

// statusError is a printer's own refusal.
type statusError ipp.Status

// Error says it in words.
func (s statusError) Error() string { return ipp.Status(s).String() }

// certain reports whether a refusal means that nothing was printed. What is not known here, and what a printer says that
// had begun, does not.
func certain(err error) bool {
	var web httpStatus
	if errors.As(err, &web) {
		return web >= 300 && web < 500 && web != http.StatusRequestTimeout || web == http.StatusServiceUnavailable
	}
	var status statusError
	if !errors.As(err, &status) {
		return false
	}
	switch s := ipp.Status(status); s {
	case ipp.OperationNotSupported, ipp.ServiceUnavailable, ipp.VersionNotSupported, ipp.TemporaryError,
		ipp.NotAcceptingJobs, ipp.Busy, ipp.OneDocumentOnly, ipp.Deactivated:
		return true
	default:
		return s >= 0x0400 && s < 0x0500 && s != ipp.Timeout
	}
}

// passing reports whether a later try may do although nothing is changed.
func passing(err error) bool {
	var web httpStatus
	if errors.As(err, &web) {
		return web >= 500 || web == http.StatusRequestTimeout || web == http.StatusTooManyRequests
	}
	var status statusError
	if !errors.As(err, &status) {
		return true
	}
	switch s := ipp.Status(status); s {
	case ipp.OperationNotSupported, ipp.VersionNotSupported, ipp.OneDocumentOnly, ipp.Deactivated:
		return false
	default:
		return s >= 0x0500 || s == ipp.Timeout
	}
}

// explain makes an error of what went wrong while nothing was printed.
func (p *printServer) explain(err error) error {
	what, lasting := p.sentence(err)
	if lasting {
		return refused(what, err)
	}
	return notSent(what, err)
}

// sentence says what went wrong, what to do, and whether it lasts until something is changed.
func (p *printServer) sentence(err error) (what string, lasting bool) {
	if what, ok := p.distrusted(err); ok {
		return what, true
	}
	var web httpStatus
	var away *unreachable
	lasting = !passing(err)
	switch {
	case errors.As(err, &away):
		return away.what, false
	case errors.As(err, &web) && (web == http.StatusUnauthorized || web == http.StatusForbidden):
		return p.name + " wants a sign-in: let it take labels from this machine without", true
	case errors.As(err, &web) && web == http.StatusNotFound:
		return p.name + " has no printer at this path: what its own page shows, often /ipp/print, belongs behind the host", true
	case errors.As(err, &web) && web == http.StatusUpgradeRequired:
		return p.name + " wants a secure connection: begin its address with ipps", true
	case errors.As(err, &web) && web >= 300 && web < 400:
		return p.name + " sends us to another address: take that one from the printer's own page", true
	case errors.Is(err, errGarbage):
		return p.name + " does not answer as a printer does: is the address right?", false
	case errors.As(err, new(statusError)):
		return p.name + " did not take the label", lasting
	case lasting:
		return p.name + " refuses the label", true
	}
	return p.name + " broke off: is the printer ready?", false
}

// Look asks the printer what it does.
func (p *printServer) Look(ctx context.Context) (string, error) {
	able, err := p.abilities(ctx)
	if err != nil {
		what, _ := p.sentence(err)
		if errors.As(err, new(statusError)) {
			what = p.name + " answers, and does not say how it is"
		}
		return "", &unreachable{what, err}
	}
	state, reasons, accepts := able.state()
	what := p.name
	if model := ipp.Clean(able.printer.Get("printer-make-and-model").Word()); model != "" {
		what += " (" + model + ")"
	}
	what += " " + state.String()
	if !accepts {
		what += " and takes no jobs"
	}
	return because(what, reasons), nil
}
