package broker

import (
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"

	"github.com/nats-io/nats-server/v2/server"
)

// storeDir is the folder that JetStream makes in ours.
func (s *Server) storeDir() string {
	return filepath.Join(s.options.StoreDir, server.JetStreamStoreDir)
}

// streamDir is where the server keeps a stream. A later server may keep it elsewhere; then nobody looks there.
func (s *Server) streamDir(name string) string {
	return filepath.Join(s.storeDir(), server.DEFAULT_GLOBAL_ACCOUNT, "streams", name, "msgs")
}

// folder is a folder as it was once seen, to notice that it was deleted or put in the place of another: the server
// then goes on writing into files that nobody can find any more.
type folder struct {
	path string
	info os.FileInfo // nil when it was not there
}

func seen(path string) folder {
	info, err := os.Stat(path)
	if err != nil {
		info = nil
	}
	return folder{path: path, info: info}
}

func (f folder) lost() bool {
	if f.info == nil {
		return false
	}
	info, err := os.Stat(f.path)
	return errors.Is(err, os.ErrNotExist) || err == nil && !os.SameFile(info, f.info)
}

// epoch counts the starts of JetStream.
type epoch struct {
	number uint64
	top    folder
	over   chan struct{} // closed when the next one begins
}

// current is the epoch that is running.
func (s *Server) current() epoch {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.epoch
}

// begin starts counting a new epoch.
func (s *Server) begin() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.epoch.over != nil {
		close(s.epoch.over)
	}
	s.epoch = epoch{number: s.epoch.number + 1, top: seen(s.storeDir()), over: make(chan struct{})}
}

// heal starts JetStream anew if its folder is gone, it gave up, or a stream failed to be written, or when a feed found its
// stream's folder gone in the epoch that is still running. It gives the epoch that runs then.
func (s *Server) heal(log *slog.Logger, lostIn uint64) (epoch, error) {
	s.healing.Lock()
	defer s.healing.Unlock()
	now := s.current()
	switch gone := !s.nats.JetStreamEnabled() || now.top.lost() || lostIn == now.number; {
	case gone:
		log.Error("the folder of the streams is gone or unusable; they are made anew", "folder", s.options.StoreDir)
	case s.unwritable():
		log.Error("a stream could not be written; streams are started anew from what is on disk", "folder", s.options.StoreDir)
	default:
		return now, nil
	}
	if err := s.resetStore(); err != nil {
		return now, err
	}
	return s.current(), nil
}

// unwritable reports whether a stream failed to be written, for want of space most often. The server answers nothing that is
// sent to such a stream until it is started again, whatever the disk has to say by then.
func (s *Server) unwritable() bool {
	for _, e := range s.nats.Healthz(&server.HealthzOptions{Details: true}).Errors {
		if e.Type == server.HealthzErrorStream && strings.Contains(e.Error, "write error") { // nats-server v2.15.2, server/monitor.go
			return true
		}
	}
	return false
}

// resetStore starts JetStream anew on the folder as it is now.
func (s *Server) resetStore() error {
	config := s.nats.JetStreamConfig()
	if config == nil {
		config = &server.JetStreamConfig{MaxMemory: s.options.MaxMemory, MaxStore: s.options.MaxStore,
			SyncInterval: s.options.SyncInterval, Domain: s.options.Domain, Strict: true}
	}
	config.StoreDir = s.options.StoreDir // the server puts its own folder under it
	if err := s.nats.ShutdownJetStream(); err != nil {
		return fmt.Errorf("NATS: streams whose folder is gone cannot be stopped: %w", err)
	}
	if err := os.MkdirAll(s.options.StoreDir, 0o700); err != nil {
		return fmt.Errorf("NATS: folder of the streams: %w", err)
	}
	if err := s.nats.EnableJetStream(config); err != nil {
		return fmt.Errorf("NATS: streams cannot be started in %s: %w", s.options.StoreDir, err)
	}
	return s.ready()
}
