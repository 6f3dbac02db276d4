package backup

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

const (
	namePrefix = "pottrail-"
	nameSuffix = ".tar"
	nameTime   = "20060102T150405Z"
)

// FileName is what a backup is called when nobody names it: by the ledger's origin and the instant, in UTC.
func FileName(origin string, at time.Time) string {
	return namePrefix + origin + "-" + at.UTC().Format(nameTime) + nameSuffix
}

// Kept is one backup in a folder.
type Kept struct {
	Name string
	At   time.Time
}

// List lists the backups of an origin that [FileName] named, the latest first. Others' files, other origins' and
// unfinished ones are not ours to count or to remove.
func List(folder, origin string) ([]Kept, error) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil, fmt.Errorf("the folder of backups: %w", err)
	}
	var out []Kept
	for _, e := range entries {
		rest, ours := strings.CutPrefix(e.Name(), namePrefix+origin+"-")
		stamp, whole := strings.CutSuffix(rest, nameSuffix)
		if at, err := time.Parse(nameTime, stamp); ours && whole && err == nil && e.Type().IsRegular() {
			out = append(out, Kept{e.Name(), at})
		}
	}
	slices.SortFunc(out, func(a, b Kept) int { return b.At.Compare(a.At) })
	return out, nil
}

// Rotation says how many backups stay.
type Rotation struct {
	Daily  int // of each of so many days that have one, the latest; at least 1
	Weekly int // of each of so many weeks (from Monday on) that have one, the latest
	Zone   *time.Location
}

// Longest is how many days a backup stays at most, and a part of one, while one is made each night.
func (r Rotation) Longest() int { return max(r.Daily, 7*r.Weekly) }

// Expired lists which of some backups may go. The latest never does.
func (r Rotation) Expired(all []Kept) []Kept {
	all = slices.Clone(all)
	slices.SortFunc(all, func(a, b Kept) int { return cmp.Or(b.At.Compare(a.At), cmp.Compare(a.Name, b.Name)) })
	days, weeks := map[string]bool{}, map[string]bool{}
	var out []Kept
	for i, k := range all {
		at := k.At.In(r.Zone)
		year, week := at.ISOWeek()
		day, ofWeek := at.Format(time.DateOnly), fmt.Sprintf("%d-%d", year, week)
		stays := i == 0
		if !days[day] && len(days) < r.Daily {
			days[day], stays = true, true
		}
		if !weeks[ofWeek] && len(weeks) < r.Weekly {
			weeks[ofWeek], stays = true, true
		}
		if !stays {
			out = append(out, k)
		}
	}
	return out
}

// Rotate removes expired backups of an origin, once the newest one was verified, and says which.
func (r Rotation) Rotate(folder, origin string) (removed []string, err error) {
	all, err := List(folder, origin)
	if err != nil {
		return nil, err
	}
	for _, k := range r.Expired(all) {
		if gone := os.Remove(filepath.Join(folder, k.Name)); gone != nil {
			err = errors.Join(err, fmt.Errorf("remove an old backup: %w", gone))
			continue
		}
		removed = append(removed, k.Name)
	}
	return removed, err
}

// Schedule is the time of day of nightly backups.
type Schedule struct {
	Hour, Minute int
	Zone         *time.Location
}

// Next is the first instant after one at which a backup is wanted.
func (s Schedule) Next(after time.Time) time.Time {
	y, m, d := after.In(s.Zone).Date()
	for day := d; ; day++ {
		if at := time.Date(y, m, day, s.Hour, s.Minute, 0, 0, s.Zone); at.After(after) {
			return at
		}
	}
}

// Last is the latest instant not after one at which a backup was wanted.
func (s Schedule) Last(until time.Time) time.Time {
	y, m, d := until.In(s.Zone).Date()
	for day := d + 1; ; day-- {
		if at := time.Date(y, m, day, s.Hour, s.Minute, 0, 0, s.Zone); !at.After(until) {
			return at
		}
	}
}
