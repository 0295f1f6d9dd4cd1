// Package compare compares shoes with each other, and the left foot with the right, with
// the uncertainty of each difference. The unit of analysis is the relevé; the uncertainty
// of a difference between shoes is mostly that of mounting the strip.
package compare

import (
	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/device"
)

// Wording is the statement that the data allow about a difference.
type Wording string

const (
	Clear          Wording = "clear"                               // the p-value, adjusted for multiple testing, is at most 0.05
	WithinMounting Wording = "smaller than mounting repeatability" // it would without the uncertainty of mounting
	CouldBeChance  Wording = "could be chance"
)

// Comparison is the result of comparing several recordings of one dancer. Its
// JSON is that of compare --json.
type Comparison struct {
	Dancer      string          `json:"dancer,omitempty"`
	Shoes       []ShoeFoot      `json:"shoes"`
	Differences []Difference    `json:"differences"`
	Feet        []FeetDiff      `json:"feet"`
	Between     []Difference    `json:"-"`                   // over between the other two of three shoes
	Preferred   string          `json:"preferred,omitempty"` // a shoe's label; absent where none is
	Pain        bool            `json:"pain,omitempty"`      // the dancer's pain asks to stop
	Answer      string          `json:"answer,omitempty"`    // the headline: what is known of the shoes and what is open, in at most three sentences
	Parts       Headline        `json:"-"`                   // the answer in its parts; empty where nothing was measured
	Findings    []string        `json:"-"`                   // sentences about each foot, with numbers
	Why         string          `json:"why"`                 // Answer and Findings
	RestsOn     *VarianceShares `json:"rests_on,omitempty"`  // variance of the deciding difference; absent where no difference has an interval
	Against     []AgainstFirst  `json:"against,omitempty"`   // each shoe against the first; absent with fewer than three shoes
	Ranking     []RankedShoe    `json:"ranking,omitempty"`   // likewise
	Changes     []Change        `json:"changes,omitempty"`   // properties in which shoes differ, next to the differences of measures
	Trends      []VisitTrend    `json:"drift,omitempty"`     // over the visit, in all shoes together

	Mountings map[measure.Measure]mounting.Effect `json:"mounting_effects,omitempty"`      // what differs between mountings beyond relevés and seat
	Earlier   []string                            `json:"mounting_effects_from,omitempty"` // ids of the other recordings that they are estimated from

	Visits int                                 `json:"visits,omitempty"`      // how many the relevés are of; absent with one
	Days   map[measure.Measure]mounting.Effect `json:"day_effects,omitempty"` // with several visits, what differs between them beyond the mountings

	Observations []Observation   `json:"observations,omitempty"`  // by recording, of those with a note or a remark
	VisitRecords []measure.Visit `json:"visit_records,omitempty"` // of the visits that the recordings were made in
	Stop         string          `json:"stop,omitempty"`          // the advice to stop because of pain, in words; it comes before any answer

	Warnings []measure.Warning `json:"warning_codes"`
	Texts    []string          `json:"warnings"` // Warnings in words, see package plots/words

	Provenance *measure.Provenance `json:"provenance,omitempty"` // of all results compared

	scatter mounting.Scatter // of place between the mountings in hand
}

// Observation holds the notes and remarks about one recording. It does not affect the
// numbers.
type Observation struct {
	Recording string                  `json:"recording"` // as measure.Recording.File has it
	Shoes     measure.PerFoot[string] `json:"shoes"`
	Notes     []measure.Note          `json:"notes,omitempty"`
	Remark    *measure.Remark         `json:"remark,omitempty"`
}

// ShoeFoot is the pooled relevés of one shoe on one foot under the same
// conditions.
type ShoeFoot struct {
	Shoe string      `json:"shoe"` // label: its code, with #1, #2 where one code has several descriptions
	Foot device.Foot `json:"foot"`
	measure.Conditions
	N         int                         `json:"n"`
	Mountings int                         `json:"mountings"`
	Verdict   measure.Verdict             `json:"verdict"`
	PInside   float64                     `json:"p_inside"`
	Misses    []measure.Direction         `json:"misses,omitempty"` // as in measure.Hold
	Measures  map[measure.Measure]Summary `json:"measures"`         // by the measure's name

	Profile  device.Shoe      `json:"-"`
	Platform measure.Platform `json:"-"`
	Releves  []measure.Releve `json:"-"` // the measured ones, in order of recording and n
	Mounting []int            `json:"-"` // of each of Releves, numbered from 0
	MeanMap  []float64        `json:"-"` // mean of the relevés' maps, kPa, scan order of Strip
	Strip    device.Strip     `json:"-"`
}

// Summary summarises one measure of one shoe on one foot, in the unit of the
// measure.
type Summary struct {
	N    int         `json:"n"`
	Mean float64     `json:"mean"`
	SD   *float64    `json:"sd,omitempty"`   // of relevés within a mounting; absent where every mounting has one relevé
	U    float64     `json:"u"`              // standard uncertainty of the mean, including seat, mounting effect and gains
	DOF  *float64    `json:"dof,omitempty"`  // effective degrees of freedom of U; absent where unlimited
	CI95 *[2]float64 `json:"ci95,omitempty"` // absent where a single relevé leaves the scatter unknown

	Budget *measure.Budget `json:"budget,omitempty"` // of the mean, for the measures in measure.Budgeted; absent where CI95 is
}

// Difference is the difference of one measure between two shoes on the same foot,
// to − from, in the unit of the measure. Only declared measures have p-values and a
// wording, see measure.Kind; load and load share have none between strips whose scales may
// differ, see scale.Judged.
//
// P is that of the two-sided t-test with U and DOF, so that it is at most 0.05 where
// CI95 excludes 0. PHolm is P adjusted by Holm (see stats.Holm): for the primary
// measure over the feet and pairs of shoes of the comparison, for the other declared
// ones over measures, feet and pairs together, load share once a pair.
type Difference struct {
	Foot device.Foot `json:"foot"`
	measure.Conditions
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
	P             *float64        `json:"p,omitempty"`
	PHolm         *float64        `json:"p_holm,omitempty"`
	Wording       Wording         `json:"wording,omitempty"`
}

// FeetDiff is the difference of one measure between the feet in one shoe, left −
// right, over the relevés that both feet made together. Only declared measures have a
// wording.
type FeetDiff struct {
	Shoe string `json:"shoe"`
	measure.Conditions
	Measure    measure.Measure `json:"measure"`
	N          int             `json:"n"`
	Left       float64         `json:"left"`
	Right      float64         `json:"right"`
	Difference float64         `json:"difference"`
	CI95       *[2]float64     `json:"ci95,omitempty"`
	U          float64         `json:"u"`
	DOF        *float64        `json:"dof,omitempty"`
	Wording    Wording         `json:"wording,omitempty"`

	Pairs [][2]float64 `json:"-"` // values of left and right of every paired relevé

	contrast contrast
}

// Change lists the properties in which two shoes differ together with the differences of
// the measures, as hints which property may have moved the load. Where several properties
// differ, their effects cannot be separated.
type Change struct {
	From       string       `json:"from"`
	To         string       `json:"to"`
	Properties []Property   `json:"properties"`        // in which the shoes differ
	Unknown    []string     `json:"unknown,omitempty"` // not stated for one of the shoes, so they may differ as well
	Moved      []Difference `json:"moved"`             // differences, to − from, of over, medial, contact share and peak pressure
}

// Property is one property in which two shoes differ.
type Property struct {
	Name string `json:"property"`
	From string `json:"from"`
	To   string `json:"to"`
	// By is to − from in the property's unit, or in steps of an ordinal scale (soft,
	// medium, hard); 0 where there is no order.
	By float64 `json:"by,omitempty"`
}

// VisitTrend is the trend of a measure over a visit, independent of the shoe: the slope
// against the order of relevés on that foot that all shoes have in common, with a level
// for each shoe (see stats.CommonSlope).
type VisitTrend struct {
	Foot      device.Foot     `json:"foot"`
	Measure   measure.Measure `json:"measure"`
	N         int             `json:"n"`          // relevés with a value
	Releves   int             `json:"releves"`    // of this foot in the longest visit, including those not measured
	PerReleve float64         `json:"per_releve"` // slope, unit of the measure a relevé
	U         float64         `json:"u"`          // standard uncertainty of the slope, seat and mounting effect included
	DOF       *float64        `json:"dof,omitempty"`
	CI95      *[2]float64     `json:"ci95,omitempty"`
	Wording   Wording         `json:"wording,omitempty"` // of declared measures
	Effects   []TrendEffect   `json:"makes,omitempty"`   // on the difference of each shoe from the first
}

// TrendEffect is the difference between two shoes that a trend alone would cause,
// because one was measured later than the other.
type TrendEffect struct {
	To         string  `json:"to"`
	Difference float64 `json:"difference"`
}

// RankedShoe is a shoe's place in the ranking.
type RankedShoe struct {
	Place  int      `json:"place"` // from 1; shoes that share a place could not be distinguished
	Shoe   string   `json:"shoe"`
	Better []string `json:"better,omitempty"` // shoes that this one is better than
}

// AgainstFirst is the difference of the primary measure of one shoe from the first.
type AgainstFirst struct {
	Difference
	PShoes *float64 `json:"p_shoes,omitempty"` // PHolm of the difference
}

// VarianceShares divides the variance of one difference into its sources: the
// primary measure between the two shoes, on the foot, that decides the answer
// most.
type VarianceShares struct {
	Foot device.Foot `json:"foot"`
	measure.Conditions
	Measure   measure.Measure `json:"measure"`
	From      string          `json:"from"`
	To        string          `json:"to"`
	HalfWidth float64         `json:"half_width"` // of the 95 % interval

	// Shares of the variance, which add up to 1: scatter of relevés, including noise and
	// sway; seats of the strips; other differences between mountings; gains, zeros, blur
	// and grid of the cells.
	Dancer   float64 `json:"dancer"`
	Mounting float64 `json:"mounting"`
	Effect   float64 `json:"mounting_effect"`
	Day      float64 `json:"day_effect,omitempty"` // what differs between visits beyond that, where there are several
	Sensor   float64 `json:"sensor"`

	MountingEffect mounting.Effect `json:"effect"` // basis of the share of the mounting effect

	Remedies []Remedy `json:"remedies"` // in order of effect
}

// Remedy is a measure that would narrow the interval if means and standard deviations
// stay the same.
type Remedy struct {
	Do        string  `json:"do"`
	HalfWidth float64 `json:"half_width"` // of the 95 % interval with the remedy
}

// Part is one source of variance with its share.
type Part struct {
	Of    string
	Share float64 // 0..1
}
