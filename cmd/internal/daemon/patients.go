package daemon

import (
	"time"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/events"
)

// patients is the sealed people file as the daemon sees it.
type patients interface {
	// Ref is the ref of a patient whose record or national number is known, else a new random one.
	Ref(p ask.Patient) (ref string, known bool, err error)
	// Put keeps a patient under a ref.
	Put(ref string, p ask.Patient) error
	// Get gives a patient back; ok is false when the ref is not known here or was destroyed.
	Get(ref string) (p ask.Patient, ok bool, err error)
	// Mentions reports whether a text holds identifiers of the patient.
	Mentions(ref, text string) (bool, error)
	// KeepRefused keeps a refused message, up to a cap.
	KeepRefused(at time.Time, raw []byte, reason *events.Refusal) error
	// Refused lists them.
	Refused() (*ask.RefusedAnswer, error)
	Close() error
}
