package config

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"
)

// Folder says where the data are.
type Folder struct {
	Dir string // absolute
}

// Web says where the pages and the HTTP API answer.
type Web struct {
	Listen string   // host:port; beyond loopback only with TLS, or with TLS.Plain
	Hosts  []string // names and addresses, besides this machine's loopback and a certificate's, by which the pages may be asked for
}

// NATS says whether the broker listens for clients outside the process, and how much it may keep.
type NATS struct {
	Listen   string // host:port, beyond loopback only with TLS; empty: no port at all
	MaxStore int64  // bytes on disk for all streams
}

// Store limits the ledger.
type Store struct {
	MaxSize int64 // bytes of the ledger's file; 0: no limit but the disk
	Reserve int64 // bytes of disk that are left free: below, recording answers no-space
}

// Evidence says how often the record is vouched for.
type Evidence struct {
	Every time.Duration // between two checkpoints, when something is new
}

// People says where the master key of the people file is kept.
type People struct {
	KeyFile  string // its path; empty: beside the people file
	KeyGiven bool   // it is put there by something else, such as systemd, and is neither made nor replaced
}

// Backup says where nightly backups go, when, and how many stay.
type Backup struct {
	Dir    string // absolute; empty: none are made
	At     string // time of day in the clinic's zone, "04:30"
	Daily  int    // of so many days the latest stays
	Weekly int    // of so many weeks the latest stays
}

// TimeOfDay is At as numbers; [Options.Validate] says when it cannot be read.
func (b Backup) TimeOfDay() (hour, minute int, err error) {
	at, err := time.Parse("15:04", b.At)
	if err != nil {
		return 0, 0, fmt.Errorf("--backup-at %q: write a time of day, as in 04:30", b.At)
	}
	return at.Hour(), at.Minute(), nil
}

func (b *Backup) validate(data string) error {
	if _, _, err := b.TimeOfDay(); err != nil {
		return err
	}
	if b.Daily < 1 || b.Weekly < 0 || b.Daily > 1000 || b.Weekly > 1000 {
		return errors.New("--backup-daily and --backup-weekly: keep 1 to 1000 days and 0 to 1000 weeks")
	}
	if b.Dir == "" {
		return nil
	}
	dir, err := filepath.Abs(b.Dir)
	if err != nil {
		return fmt.Errorf("--backup-dir %s: %w", b.Dir, err)
	}
	if b.Dir = dir; dir == data || strings.HasPrefix(dir, data+string(filepath.Separator)) {
		return fmt.Errorf("--backup-dir %s lies in the data folder: what takes the one takes both, name a folder on another disk", dir)
	}
	return nil
}

// Log says how the daemon logs, on standard error.
type Log struct {
	Format string // "text" or "json"
	Level  string // "debug", "info", "warn" or "error"
}

// Options is everything that can be set about a daemon.
type Options struct {
	Folder   Folder
	Web      Web
	TLS      TLS
	NATS     NATS
	Store    Store
	Evidence Evidence
	People   People
	Backup   Backup
	Log      Log
	// Printers are those of the configuration file, by name.
	Printers []Printer

	origin map[string]string // option → where its value came from, when not the default
}

const mebibyte = 1 << 20

// leastEvery is the shortest time between two checkpoints. Ours.
const leastEvery = time.Second

// Defaults is what holds when nothing is set; getenv finds the user's folders.
func Defaults(getenv func(string) string) Options {
	return Options{
		Folder:   Folder{Dir: stateFolder(getenv)},
		Web:      Web{Listen: "127.0.0.1:4460"},
		NATS:     NATS{MaxStore: 1024 * mebibyte},
		Store:    Store{Reserve: 64 * mebibyte},
		Evidence: Evidence{Every: time.Hour},
		Backup:   Backup{At: "04:30", Daily: 7, Weekly: 4},
		Log:      Log{Format: "text", Level: "info"},
	}
}

// stateFolder is where a program of this user keeps what it must not lose.
func stateFolder(getenv func(string) string) string {
	if dir := getenv("XDG_STATE_HOME"); filepath.IsAbs(dir) {
		return filepath.Join(dir, "pottrail")
	}
	home := getenv("HOME")
	switch runtime.GOOS {
	case "windows":
		return filepath.Join(getenv("LocalAppData"), "pottrail")
	case "darwin":
		return filepath.Join(home, "Library", "Application Support", "pottrail")
	}
	return filepath.Join(home, ".local", "state", "pottrail")
}

// Validate says what cannot work, naming the option, and makes the folder's path absolute.
func (o *Options) Validate() error {
	if o.Folder.Dir == "" {
		return errors.New("--data: no folder: say where the data are, as the user's own folder is not known")
	}
	dir, err := filepath.Abs(o.Folder.Dir)
	if err != nil {
		return fmt.Errorf("--data %s: %w", o.Folder.Dir, err)
	}
	o.Folder.Dir = dir
	if err := o.validateServing(); err != nil {
		return err
	}
	if o.NATS.MaxStore < mebibyte {
		return fmt.Errorf("--nats-max-store %d: the streams need at least 1 MiB", o.NATS.MaxStore)
	}
	if o.Store.MaxSize < 0 || o.Store.Reserve < 0 {
		return errors.New("--max-size and --reserve: bytes cannot be fewer than none")
	}
	if o.Evidence.Every < leastEvery {
		return fmt.Errorf("--checkpoint-every %s: at least %s: each is kept for ever", o.Evidence.Every, leastEvery)
	}
	if err := o.Backup.validate(o.Folder.Dir); err != nil {
		return err
	}
	switch o.Log.Format {
	case "text", "json":
	default:
		return fmt.Errorf("--log-format %q: write text or json", o.Log.Format)
	}
	switch o.Log.Level {
	case "debug", "info", "warn", "error":
	default:
		return fmt.Errorf("--log-level %q: write debug, info, warn or error", o.Log.Level)
	}
	return nil
}

// DemoFolder is where the demo keeps its own data when no folder is named: the user's cache.
func DemoFolder() (string, error) {
	dir, err := os.UserCacheDir()
	if err != nil {
		return "", fmt.Errorf("no cache folder of the user is known, name one with --data: %w", err)
	}
	return filepath.Join(dir, "pottrail-demo"), nil
}
