// Package budget lists what makes a number uncertain, source by source, and
// adds it up as JCGM 100:2008 does (Guide to the expression of uncertainty in
// measurement). It knows nothing of feet.
package budget

import (
	"encoding/json"
	"math"
	"slices"
	"strings"

	"aplomb/analyze/stats"
)

// Type says how a standard uncertainty was evaluated (JCGM 100:2008, 4.2 and 4.3).
type Type string

const (
	A Type = "A" // from the scatter of repeated observations
	B Type = "B" // from anything else: a specification, an assumption, a bound
)

// Distribution is what an effect is taken to be drawn from.
type Distribution string

const (
	Normal      Distribution = "normal"
	Rectangular Distribution = "rectangular"
)

// UniformWithin returns the standard uncertainty of an effect that is known only
// to lie within ±half: half ÷ √3 (JCGM 100:2008, 4.3.7).
func UniformWithin(half float64) float64 { return math.Abs(half) / math.Sqrt(3) }

// Line is one source. Its U is in the unit of the measure: the standard
// uncertainty of the input times how the measure answers to it. Sources are
// taken to be independent of each other.
type Line struct {
	Source       string
	Basis        string // what U rests on, for people
	Type         Type
	Distribution Distribution
	stats.Component
}

// Budget is what makes one measure uncertain.
type Budget struct {
	Lines []Line
	U     float64 // combined standard uncertainty
	DOF   float64 // its effective degrees of freedom (Welch-Satterthwaite)
}

// Expanded returns the half-width of the 95 % interval: t(0.975, DOF)·U.
func (b Budget) Expanded() float64 { return stats.Interval95(0, b.U, b.DOF).Hi }

// Of adds up lines. A line whose U is 0 stays in, so that a reader sees that it
// was thought of.
func Of(lines ...Line) Budget {
	parts := make([]stats.Component, len(lines))
	for i, l := range lines {
		parts[i] = l.Component
	}
	return Budget{Lines: lines, U: stats.Combined(parts...), DOF: stats.EffectiveDOF(parts...)}
}

// Share is the part of the combined variance that line i makes up, 0..1; 0
// where nothing is uncertain.
func (b Budget) Share(i int) float64 {
	if b.U == 0 {
		return 0
	}
	r := b.Lines[i].U / b.U
	return r * r
}

// Typical is the budget of one of several alike measurements: source by source
// the root mean square over them, with the degrees of freedom of the first and
// every basis. All must have the same sources in the same order; there must be one.
func Typical(budgets []Budget) Budget {
	lines := make([]Line, len(budgets[0].Lines))
	for i := range lines {
		lines[i] = budgets[0].Lines[i]
		lines[i].U = 0
		var bases []string
		for _, b := range budgets {
			l := b.Lines[i]
			lines[i].U = math.Hypot(lines[i].U, l.U/math.Sqrt(float64(len(budgets))))
			if !slices.Contains(bases, l.Basis) {
				bases = append(bases, l.Basis)
			}
		}
		lines[i].Basis = strings.Join(bases, "; ")
	}
	return Of(lines...)
}

type lineJSON struct {
	Source       string       `json:"source"`
	Type         Type         `json:"type"`
	Distribution Distribution `json:"distribution"`
	U            float64      `json:"u"`
	DOF          *float64     `json:"dof,omitempty"` // absent where unlimited, which JSON cannot hold
	Share        float64      `json:"share"`
	Basis        string       `json:"basis"`
}

// MarshalJSON writes the lines with their shares, leaving out degrees of
// freedom that nothing limits.
func (b Budget) MarshalJSON() ([]byte, error) {
	lines := make([]lineJSON, len(b.Lines))
	for i, l := range b.Lines {
		lines[i] = lineJSON{l.Source, l.Type, l.Distribution, l.U, limited(l.DOF), b.Share(i), l.Basis}
	}
	return json.Marshal(struct {
		Sources  []lineJSON `json:"sources"`
		U        float64    `json:"u"`
		DOF      *float64   `json:"dof,omitempty"`
		Expanded float64    `json:"expanded95"`
	}{lines, b.U, limited(b.DOF), b.Expanded()})
}

func limited(dof float64) *float64 {
	if math.IsInf(dof, 0) {
		return nil
	}
	return &dof
}
