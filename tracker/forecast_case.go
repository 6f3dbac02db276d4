package tracker

import "time"

// PotForecast is what is to come for one pot, for people who ask.
type PotForecast struct {
	Forecast
	Known bool
	Why   string // why nothing is foreseen
}

// Forecasts looks ahead for every pot of a case that holds or is to hold something, or for one of them.
func (r *Rules) Forecasts(c *Case, only Name, now time.Time) []PotForecast {
	var out []PotForecast
	for _, p := range c.Pots {
		if only != "" && only != p.Name || c.unused(p) {
			continue
		}
		f, why, ok := r.ForecastPot(c, p, now)
		f.Pot = p.Name
		out = append(out, PotForecast{Forecast: f, Known: ok, Why: why})
	}
	return out
}

// ForeseenKinds are the kinds of flags that look ahead.
func ForeseenKinds() []FlagKind {
	return []FlagKind{FlagFixationWillBeShort, FlagFixationWillBeLong, FlagFreshLate}
}
