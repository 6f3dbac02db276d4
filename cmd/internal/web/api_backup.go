package web

import (
	"io"
	"net/http"
	"time"

	"github.com/go-json-experiment/json"

	"github.com/pottrail/pottrail/cmd/internal/ask"
)

// BackupLine is what comes before a backup on the socket: lines of JSON that tell how far it is and then, in the last of
// them, that the archive follows, or why there is none.
type BackupLine struct {
	What    string     `json:"what,omitzero"`
	Done    int64      `json:"done,omitzero"`
	Total   int64      `json:"total,omitzero"`
	Archive bool       `json:"archive,omitzero"` // the bytes after this line are the archive
	Error   *ask.Error `json:"error,omitzero"`
}

// backup makes one and sends it; with the end of the archive the answer ends.
func (s *Server) backup(w http.ResponseWriter, r *http.Request) {
	if s.o.Backup == nil {
		s.nothingHere(w, r)
		return
	}
	stream := http.NewResponseController(w)
	_ = stream.SetWriteDeadline(time.Time{}) // a large ledger on a slow disk takes its time
	_ = stream.SetReadDeadline(time.Time{})
	w.Header().Set("Content-Type", "application/octet-stream")
	out := &backupAnswer{w: w}
	var told time.Time
	err := s.o.Backup(r.Context(), out, func(what string, done, total int64) {
		now := time.Now()
		if out.begun || now.Sub(told) < tellEvery && done < total {
			return
		}
		told = now
		out.line(BackupLine{What: what, Done: done, Total: total})
		_ = stream.Flush() // the client has gone: writing will say so
	})
	if err == nil {
		return
	}
	s.o.Log.Error("a backup was asked for and could not be made", "error", err.Error())
	if out.begun {
		panic(http.ErrAbortHandler) // so that the client does not take what it has for the whole
	}
	out.line(BackupLine{Error: ask.As(err)})
}

// tellEvery is how often progress is told.
const tellEvery = 200 * time.Millisecond

// backupAnswer says before the first byte that the archive begins.
type backupAnswer struct {
	w     io.Writer
	begun bool
}

func (b *backupAnswer) line(l BackupLine) {
	if text, err := json.Marshal(l); err == nil {
		_, _ = b.w.Write(append(text, '\n')) // the client has gone: nobody to tell
	}
}

// Write writes a part of the archive.
func (b *backupAnswer) Write(part []byte) (int, error) {
	if !b.begun {
		b.line(BackupLine{Archive: true})
		b.begun = true
	}
	return b.w.Write(part)
}
