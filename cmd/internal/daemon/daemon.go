package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"time"

	"github.com/pottrail/pottrail/cmd/internal/certificates"
	"github.com/pottrail/pottrail/cmd/internal/config"
	"github.com/pottrail/pottrail/cmd/internal/web"
	"github.com/pottrail/pottrail/store"
)

// Options is what a daemon runs with.
type Options struct {
	config.Options
	Log     *slog.Logger
	Version string
	Ready   func(Ready) // called once, when pages and socket serve
	Demo    *Demo       // run over an invented network; nil: a real clinic
	Tap     func([]store.Put)
	cached  int // cases and bags that the ledger keeps decoded; 0: as many as it does by itself
	// Self is how this program is started again to look at the ledger before it is opened: see [examine.Self]. Empty: this
	// process looks, which is for tests.
	Self []string
}

// Ready says where everything is.
type Ready struct {
	HTTP     string // host:port of the pages
	URL      string // of the pages
	Beyond   bool   // other machines reach them
	Plain    bool   // and they are not encrypted
	Trust    string // page by which a device comes to trust the local authority; empty where there is none
	Print    string // fingerprint of that authority
	Folder   string
	NATS     string // address for clients outside; empty when nothing listens
	NATSFile string // where its credentials are
	Printers []string
	Key      string // public, of the checkpoints
	Backups  string // folder of nightly backups; empty when none are made
	BackupAt string // time of day; empty where none are wanted
	SetUp    string // one-time link for the first administrator; empty when somebody is set up, and in the demo
	Damaged  string // what is wrong with the ledger, so that it is only read; "" when all is well
}

const (
	// drainTime is how long requests under way may take when the daemon stops.
	drainTime = 10 * time.Second
	// flushTime is how long the publisher may take to catch up when the daemon stops; what is left goes out after the
	// next start.
	flushTime = 3 * time.Second
)

// Run runs a daemon until the context ends, then stops it in order. An error means that it could not start, or that it
// had to stop.
func Run(ctx context.Context, o Options) error {
	if o.Demo != nil && o.Beyond() {
		return ErrDemoBeyond
	}
	setCollector(os.Getenv)
	d := &running{o: o, broken: make(chan error, 1), alarm: make(alarm, 1)}
	if err := d.start(); err != nil {
		d.stop()
		return err
	}
	o.Log.Info("serving", "http", d.pages.Addr().String(), "encrypted", d.certificates != nil, "origin", d.origin())
	if o.Ready != nil {
		o.Ready(d.ready())
	}
	var err error
	select {
	case <-ctx.Done():
	case err = <-d.broken:
		o.Log.Error("stopping: the daemon cannot go on", "error", err.Error())
	}
	d.stop()
	o.Log.Info("stopped")
	return err
}

// running is a daemon at work; stop undoes what start did, the last first.
type running struct {
	o            Options
	folder       folder
	ledger       *store.Ledger
	service      *Service
	link         *link
	pages        net.Listener
	certificates *certificates.Source // of pages and NATS; nil without encryption
	health       health
	backups      *backups
	alarm        alarm
	damage       *damage
	broken       chan error
	undo         []func()
}

func (d *running) onStop(f func()) { d.undo = append(d.undo, f) }

func (d *running) stop() {
	for len(d.undo) > 0 {
		last := len(d.undo) - 1
		d.undo[last]()
		d.undo = d.undo[:last]
	}
}

// breakDown stops the daemon; the first reason counts.
func (d *running) breakDown(err error) {
	d.health.broken.Store(true)
	select {
	case d.broken <- err:
	default:
	}
}

func (d *running) start() error {
	if err := d.openFolder(); err != nil {
		return err
	}
	mode, err := d.lookAtLedger()
	if err == nil {
		err = d.openCertificates()
	}
	switch {
	case err != nil:
		return err
	case mode == ledgerUnsafe:
		return d.openClosed()
	case mode == ledgerReadOnly:
		return d.openReadOnly()
	}
	for _, step := range []func() error{d.openStores, d.openEvidence, d.openIntake, d.openPrinting, d.openBackups, d.openTimer, d.openLink, d.openCheckpoints, d.openPages, d.openHistory} {
		err := step()
		if errors.Is(err, ErrEvidence) {
			return d.startOver(err)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// openFolder makes sure that the folder is ours.
func (d *running) openFolder() (err error) {
	if d.folder.dir != "" {
		return nil
	}
	if d.damage == nil {
		d.damage = &damage{log: d.o.Log}
	}
	if d.folder, err = prepare(d.o.Folder.Dir, d.o.Demo != nil); err == nil && d.o.Demo != nil {
		err = d.o.Demo.mark(d.folder)
	}
	return err
}

// openStores opens what is on disk. Nothing is changed in a folder that turns out not to be ours.
func (d *running) openStores() error {
	err := d.openFolder()
	if err != nil {
		return err
	}
	d.ledger, err = store.Open(d.folder.path(fileLedger), store.Options{MaxSize: d.o.Store.MaxSize, Reserve: d.o.Store.Reserve, Tap: d.o.Tap, Cached: d.o.cached, ReadOnly: d.damage.found(),
		Kept: func(path string) {
			d.o.Log.Info("the ledger was copied beside itself before this release changes its form", "copy", path)
		}})
	if err != nil {
		return fmt.Errorf("%s: %w", d.folder.path(fileLedger), err)
	}
	d.onStop(d.closeLedger)
	for _, back := range d.ledger.PutBacks() {
		d.o.Log.Info("this record was put back from a backup", "of", back.From.Format(time.RFC3339), "put_back", back.To.Format(time.RFC3339))
	}
	if d.ledger.HalfBuilt() {
		return fmt.Errorf("%s: %w", d.folder.path(fileLedger), store.ErrHalfBuilt)
	}
	if err := d.folder.close(); err != nil {
		return err
	}
	people, err := openPeople(d.folder, d.o.People)
	if err != nil {
		return err
	}
	people.file.OnBroken(d.breakDown)
	d.onStop(func() { d.closing("people", people.Close) })
	fallback, err := fallbackRules()
	if err != nil {
		return fmt.Errorf("the protocol inside the program: %w", err)
	}
	d.service = &Service{ledger: d.ledger, people: people, fallback: fallback, log: d.o.Log}
	d.service.counts = newMetrics(d.ledger, func() float64 {
		if d.link == nil {
			return 0
		}
		return d.link.lag()
	})
	return d.openStaff()
}

func (d *running) closing(what string, close func() error) {
	if err := close(); err != nil {
		d.o.Log.Error("could not be closed", "what", what, "error", err.Error())
	}
}

func (d *running) openIntake() error {
	d.service.intake = newIntake(d.ledger, d.giveUp)
	d.onStop(d.service.intake.stop)
	if err := d.service.sayForgotten(context.Background()); err != nil { // no reason not to serve; a broken disk is told otherwise
		d.o.Log.Warn("cases do not say yet that their patient's record was destroyed", "error", err.Error())
	}
	return nil
}

// openTimer starts the one timer.
func (d *running) openTimer() error {
	steps, unwatch, err := clockSteps()
	if err != nil {
		d.o.Log.Warn("when the machine's clock is set, what is due is late until the next event", "error", err.Error())
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		if err := keepTime(ctx, timed{d.ledger, d.backups.nightly, d.alarm}, clock{time.Now, steps}, d.service.counts.wakes.Inc); err != nil {
			d.giveUp(err)
		}
	}()
	d.onStop(func() { cancel(); <-done; unwatch() })
	return nil
}

// timed is the ledger, and what else is due by the clock, as the timer sees it.
type timed struct {
	*store.Ledger
	nightly *nightly // nil: none are made
	alarm   alarm
}

// Moved tells of nightly backups; see [due].
func (t timed) Moved() <-chan struct{} { return t.alarm }

// Due is the earlier of the ledger's and the next backup's.
func (t timed) Due() (at time.Time, ok bool, err error) {
	if at, ok, err = t.Ledger.Due(); err != nil || t.nightly == nil {
		return at, ok, err
	}
	if wanted, waits := t.nightly.next(); waits && (!ok || wanted.Before(at)) {
		return wanted, true, nil
	}
	return at, ok, nil
}

// spaceWait is how long the timer waits for space; until then answers are judged as they are asked for.
const spaceWait = time.Minute

// Recheck judges again what is due. Without space for the answers it waits instead of failing.
func (t timed) Recheck(ctx context.Context, now time.Time, limit int) error {
	if t.nightly != nil {
		t.nightly.ring(now)
	}
	_, err := t.Ledger.Recheck(now, limit)
	if !errors.Is(err, store.ErrNoSpace) {
		return err
	}
	select {
	case <-ctx.Done():
	case <-time.After(spaceWait):
	}
	return nil
}

func (d *running) openLink() error {
	var err error
	if d.link, err = openLink(d.folder, d.o.NATS, d.natsTLS(), d.reachable, d.service, d.o.Version, !d.damage.found(), d.o.Log); err != nil {
		return err
	}
	d.link.lastWords = d.service.notary.end
	d.onStop(d.link.stop)
	return nil
}

// openPages serves pages and socket.
func (d *running) openPages() error {
	door := guarded{d.service}
	o := web.Options{Service: door, Local: door, SignIn: d.service.staff, Board: door, Live: door, Health: &d.health,
		Metrics: d.service.counts.handler(), Log: d.o.Log, Hosts: d.hosts(), Beyond: d.o.Beyond(), Certificates: d.certificates, Demo: d.o.Demo != nil, Signed: d.service.notary.short, Version: d.o.Version,
		Damaged: d.damage.what}
	if d.backups != nil { // nothing is copied away over a ledger that is damaged
		o.Backup = d.backups.Backup
	}
	server, err := web.New(o)
	if err != nil {
		return err
	}
	return d.serve(server)
}

// serve lets pages and socket be reached.
func (d *running) serve(server *web.Server) error {
	socket, err := listenSocket(d.folder)
	if err != nil {
		return err
	}
	d.onStop(func() { _ = os.Remove(d.folder.path(fileSocket)) }) // the next start removes what is left over
	if d.pages, err = net.Listen("tcp", d.o.Web.Listen); err != nil {
		return errors.Join(fmt.Errorf("the pages cannot be served: %w", err), socket.Close())
	}
	pages, commands := d.encrypted(server, d.pages), newHTTP(server.Socket(), d.o.Log)
	serve := func(s *http.Server, l net.Listener) {
		if err := serveHTTP(s, l); err != nil {
			d.breakDown(err)
		}
	}
	d.health.ledger, d.health.link, d.health.damage = d.ledger, d.link, d.damage // before anybody can ask
	go serve(commands, socket)
	for _, p := range pages {
		go serve(p.Server, p.l)
	}
	d.onStop(func() {
		d.health.serving.Store(false)
		server.Stop()
		if d.service != nil {
			d.service.printing.stopWaiting()
		}
		ctx, cancel := context.WithTimeout(context.Background(), drainTime)
		defer cancel()
		if err := stopHTTP(ctx, servers(pages, commands)...); err != nil {
			d.o.Log.Warn("some requests were cut off", "error", err.Error())
		}
	})
	d.health.serving.Store(true)
	return nil
}

// openHistory lets the demo's history in, while pages are served already.
func (d *running) openHistory() error {
	if d.o.Demo == nil {
		d.health.history.Store(true)
		return nil
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		if err := d.o.Demo.letIn(ctx, d.folder, d.service); err != nil {
			if ctx.Err() == nil {
				d.breakDown(err)
			}
			return
		}
		d.health.history.Store(true)
	}()
	d.onStop(func() { cancel(); <-done })
	return nil
}

func (d *running) ready() Ready {
	r := Ready{HTTP: d.pages.Addr().String(), Folder: d.folder.dir, NATSFile: d.folder.path(fileNATS), Damaged: d.damage.what()}
	if r.Damaged == "" && (d.o.Demo == nil || d.o.Backup.Dir != "") {
		r.Backups, r.BackupAt = d.o.Backup.Dir, d.o.Backup.At
	}
	if d.link != nil {
		r.NATS = d.link.address
	}
	if d.service != nil && d.service.printing.press != nil {
		r.Printers = d.service.printing.press.Printers()
	}
	if d.service != nil {
		r.Key = d.service.notary.key()
		if r.Damaged == "" {
			r.SetUp = d.firstLink()
		}
	}
	url := d.pagesURL("")
	r.URL, r.Beyond, r.Plain = url.String(), d.o.Beyond(), d.o.Beyond() && d.certificates == nil
	if d.certificates != nil && d.certificates.Authority() != nil {
		trust := d.pagesURL(web.PathTrust)
		r.Trust, r.Print = trust.String(), certificates.Fingerprint(d.certificates.Authority().DER())
	}
	return r
}
