// Package compare sets shoe against shoe and left against right, and says how
// sure each difference is. The unit is the relevé; what mostly limits a
// difference between shoes is the mounting of the strip.
package compare

import (
	"aplomb/analyze/measure"
	"aplomb/device"
)

// Wording is what may be said of a difference.
type Wording string

const (
	Clear          Wording = "clear"                               // the 95 % interval excludes 0
	WithinMounting Wording = "smaller than mounting repeatability" // it would, were mounting perfect
	CouldBeChance  Wording = "could be chance"
)

// Comparison is what several recordings of one dancer gave together.
// Its JSON is that of compare --json.
type Comparison struct {
	Dancer      string            `json:"dancer,omitempty"`
	Shoes       []ShoeFoot        `json:"shoes"`
	Differences []Difference      `json:"differences"`
	Feet        []FeetDiff        `json:"feet"`
	Preferred   string            `json:"preferred,omitempty"` // a shoe's label; absent where none is
	Answer      string            `json:"-"`                   // which shoe, in one sentence; "" where there is one shoe only
	Findings    []string          `json:"-"`                   // where each foot stands, and what it would take to know more
	Why         string            `json:"why"`                 // both together
	RestsOn     *VarianceShares   `json:"rests_on,omitempty"`  // absent where there is no difference with an interval
	Against     []AgainstFirst    `json:"against,omitempty"`   // each shoe against the first; absent unless there are three or more
	Ranking     []RankedShoe      `json:"ranking,omitempty"`   // likewise
	Changes     []Change          `json:"changes,omitempty"`   // what differs between the shoes next to what changed in the numbers
	Trends      []VisitTrend      `json:"drift,omitempty"`     // over the visit, whatever the shoe
	Warnings    []measure.Warning `json:"warning_codes"`
	Texts       []string          `json:"warnings"` // Warnings in words, see package plots/words
}

// ShoeFoot pools the relevés of one shoe on one foot under the same conditions.
type ShoeFoot struct {
	Shoe      string                      `json:"shoe"` // its code, with #1, #2 where one code has several contents
	Foot      device.Foot                 `json:"foot"`
	Support   string                      `json:"support,omitempty"`
	Rise      string                      `json:"rise,omitempty"`
	N         int                         `json:"n"`
	Mountings int                         `json:"mountings"`
	Verdict   measure.Verdict             `json:"verdict"`
	PInside   float64                     `json:"p_inside"`
	Measures  map[measure.Measure]Summary `json:"measures"` // by the measure's name

	Profile  device.Shoe      `json:"-"`
	Platform measure.Platform `json:"-"`
	Releves  []measure.Releve `json:"-"` // the measured ones, in order of recording and n
	MeanMap  []float64        `json:"-"` // mean of the relevés' maps, kPa, scan order of Strip
	Strip    device.Strip     `json:"-"`
}

// Summary is one measure of one shoe on one foot.
type Summary struct {
	N    int         `json:"n"`
	Mean float64     `json:"mean"`
	SD   *float64    `json:"sd,omitempty"`   // between relevés of one mounting; absent where every mounting has one
	U    float64     `json:"u"`              // standard uncertainty of the mean, mounting and gains included
	DOF  *float64    `json:"dof,omitempty"`  // effective degrees of freedom of U; absent where unlimited
	CI95 *[2]float64 `json:"ci95,omitempty"` // absent where one relevé leaves the scatter unknown
}

// Difference sets one measure of one shoe against that of another, same foot: to − from.
type Difference struct {
	Foot          device.Foot     `json:"foot"`
	Support       string          `json:"support,omitempty"`
	Rise          string          `json:"rise,omitempty"`
	Measure       measure.Measure `json:"measure"`
	From          string          `json:"from"`
	To            string          `json:"to"`
	NFrom         int             `json:"n_from"`
	NTo           int             `json:"n_to"`
	MountingsFrom int             `json:"mountings_from"`
	MountingsTo   int             `json:"mountings_to"`
	MeanFrom      float64         `json:"mean_from"`
	MeanTo        float64         `json:"mean_to"`
	Difference    float64         `json:"difference"`
	CI95          *[2]float64     `json:"ci95,omitempty"`
	U             float64         `json:"u"`
	DOF           *float64        `json:"dof,omitempty"`
	P             *float64        `json:"p,omitempty"`      // permutation of mountings, where both shoes have 4 or more
	PHolm         *float64        `json:"p_holm,omitempty"` // over the measures × feet of this pair, over_mm left out
	Wording       Wording         `json:"wording"`
}

// FeetDiff sets left against right in one shoe, over the relevés both feet rose together: left − right.
type FeetDiff struct {
	Shoe       string          `json:"shoe"`
	Support    string          `json:"support,omitempty"`
	Rise       string          `json:"rise,omitempty"`
	Measure    measure.Measure `json:"measure"`
	N          int             `json:"n"`
	Left       float64         `json:"left"`
	Right      float64         `json:"right"`
	Difference float64         `json:"difference"`
	CI95       *[2]float64     `json:"ci95,omitempty"`
	U          float64         `json:"u"`
	DOF        *float64        `json:"dof,omitempty"`
	P          *float64        `json:"p,omitempty"` // sign-flip of the paired relevés: in this mounting
	Wording    Wording         `json:"wording"`

	Pairs [][2]float64 `json:"-"` // left and right of every paired relevé
}
