package config

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// setting is one option: how it is called everywhere, what it means, and how to read and write it as text.
type setting struct {
	name  string // on the command line and in the file; POTTRAIL_ and capitals in the environment
	help  string
	list  bool
	alone string // what it means on the command line with nothing behind it; "": something must stand there
	set   func(text string) error
	get   func() string
}

// Part says which options a command takes.
type Part int

// The parts of the options: where the data are (every command), and the daemon's.
const (
	PartFolder Part = iota
	PartDaemon
	PartTLS // the certificate, of the daemon and of whoever asks about it
)

func (o *Options) settings(parts ...Part) []setting {
	var all []setting
	for _, part := range parts {
		switch part {
		case PartFolder:
			all = append(all, text("data", "the data `FOLDER`", &o.Folder.Dir))
		case PartTLS:
			all = append(all,
				text("tls-certificate", "the PEM `FILE` of a certificate to serve under, read again when it changes", &o.TLS.Certificate),
				text("tls-key", "the PEM `FILE` of its key, which its owner alone may read", &o.TLS.Key),
				text("tls", "`KIND` of certificate when there is no file: local, for one made by this daemon's own small authority", &o.TLS.Mode),
			)
		case PartDaemon:
			all = append(all,
				text("http", "the `ADDRESS` of the pages and the HTTP API; beyond this machine with --tls-certificate, --tls or --http-plain", &o.Web.Listen),
				words("http-hosts", "host `NAMES` and addresses by which others reach the pages", &o.Web.Hosts),
				yesNo("http-plain", "serve the pages beyond this machine without encryption", &o.TLS.Plain),
				text("nats-listen", "the `ADDRESS` at which NATS clients outside may connect; beyond this machine with a certificate only (default: none)", &o.NATS.Listen),
				bytesOf("nats-max-store", "most `BYTES` that the streams may keep on disk", &o.NATS.MaxStore),
				bytesOf("max-size", "most `BYTES` of the ledger's file (default: no limit)", &o.Store.MaxSize),
				bytesOf("reserve", "`BYTES` of disk to leave free; below, recording answers no-space", &o.Store.Reserve),
				duration("checkpoint-every", "`TIME` between two signed checkpoints of the record, when something is new", &o.Evidence.Every),
				text("people-key-file", "the `FILE` with the master key of the people file (default: people.key in the data folder, or the credential people.key of systemd)", &o.People.KeyFile),
				text("backup-dir", "the `FOLDER` of nightly backups, on another disk (default: none are made)", &o.Backup.Dir),
				text("backup-at", "the `TIME` of day of the nightly backup, by the clinic's clock", &o.Backup.At),
				number("backup-daily", "of how many `DAYS` the latest backup stays", &o.Backup.Daily),
				number("backup-weekly", "of how many `WEEKS` the latest backup stays", &o.Backup.Weekly),
				text("log-format", "text or json, `FORM` of the log on standard error", &o.Log.Format),
				text("log-level", "debug, info, warn or error, least `LEVEL` that is logged", &o.Log.Level),
			)
		}
	}
	return all
}

func text(name, help string, to *string) setting {
	return setting{name: name, help: help, get: func() string { return *to }, set: func(s string) error { *to = s; return nil }}
}

func number(name, help string, to *int) setting {
	return setting{name: name, help: help, get: func() string { return strconv.Itoa(*to) }, set: func(s string) error {
		n, err := strconv.Atoi(s)
		if err != nil {
			return fmt.Errorf("%q is not a whole number", s)
		}
		*to = n
		return nil
	}}
}

// yesNo is a switch: on where it stands, or with a word.
func yesNo(name, help string, to *bool) setting {
	return setting{name: name, help: help, alone: "true",
		get: func() string {
			if *to {
				return "yes"
			}
			return "no"
		},
		set: func(s string) error {
			switch strings.ToLower(strings.TrimSpace(s)) {
			case "yes", "true", "1", "on":
				*to = true
			case "no", "false", "0", "off":
				*to = false
			default:
				return fmt.Errorf("%q: write yes or no", s)
			}
			return nil
		}}
}

func words(name, help string, to *[]string) setting {
	return setting{name: name, help: help, list: true,
		get: func() string { return strings.Join(*to, ",") },
		set: func(s string) error {
			*to = nil
			for word := range strings.SplitSeq(s, ",") {
				if word = strings.TrimSpace(word); word != "" {
					*to = append(*to, word)
				}
			}
			return nil
		}}
}

// duration reads a length of time as Go writes it: 1h, 90m.
func duration(name, help string, to *time.Duration) setting {
	return setting{name: name, help: help, get: func() string { return to.String() }, set: func(s string) error {
		d, err := time.ParseDuration(strings.TrimSpace(s))
		if err != nil {
			return fmt.Errorf("%q is not a length of time: write 30m, 1h or 24h", s)
		}
		*to = d
		return nil
	}}
}

// bytesOf reads a number of bytes, with KiB, MiB or GiB after it if wanted.
func bytesOf(name, help string, to *int64) setting {
	return setting{name: name, help: help, get: func() string { return FormatBytes(*to) }, set: func(s string) error {
		n, err := ParseBytes(s)
		if err != nil {
			return err
		}
		*to = n
		return nil
	}}
}

var units = [...]struct {
	name string
	size int64
}{{"GiB", 1 << 30}, {"MiB", 1 << 20}, {"KiB", 1 << 10}}

// ParseBytes reads a number of bytes: "1048576", "64MiB", "2 GiB".
func ParseBytes(s string) (int64, error) {
	number, size := strings.TrimSpace(s), int64(1)
	for _, u := range units {
		if head, ok := strings.CutSuffix(number, u.name); ok {
			number, size = strings.TrimSpace(head), u.size
			break
		}
	}
	n, err := strconv.ParseInt(number, 10, 64)
	if err != nil || n < 0 || n > (1<<62)/size {
		return 0, fmt.Errorf("%q is not a number of bytes: write 1048576, 64MiB or 2GiB", s)
	}
	return n * size, nil
}

// FormatBytes is the inverse of [ParseBytes], in the largest whole unit.
func FormatBytes(n int64) string {
	for _, u := range units {
		if n != 0 && n%u.size == 0 {
			return strconv.FormatInt(n/u.size, 10) + u.name
		}
	}
	return strconv.FormatInt(n, 10)
}

func (s setting) environment() string {
	return "POTTRAIL_" + strings.ToUpper(strings.ReplaceAll(s.name, "-", "_"))
}
