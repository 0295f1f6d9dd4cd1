package words

import (
	"strings"

	"aplomb/analyze/reliability"
	"aplomb/analyze/track"
)

// Side names a side of a follow-up.
func Side(s track.Side) string {
	switch s {
	case track.Left, track.Right:
		return string(s) + " foot"
	}
	return strings.Replace(string(s), " - ", " − ", 1)
}

// Component names a component of variance, with the levels that are in it.
func Component(c reliability.Component) string {
	name := string(c.Of)
	for _, l := range c.With {
		name += " + " + string(l)
	}
	return name
}

// Fine writes a difference or a standard deviation with one more decimal than values, for
// numbers that are small beside them.
func (d Display) Fine(v float64) string { return withUnit(Number(v*d.Scale, d.Decimals+1), d.DiffUnit) }

// FineInterval writes an interval as Fine writes its ends.
func (d Display) FineInterval(ci [2]float64) string {
	return Number(ci[0]*d.Scale, d.Decimals+1) + " to " + Number(ci[1]*d.Scale, d.Decimals+1)
}
