// Package track follows one measure of a dancer over visits: each foot and left less
// right, in one shoe at a time, compared with the repeatability of the measure. Its input
// are rows of numbers, without a database. Its texts are in words.go.
package track

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/scale"
	"aplomb/analyze/sensor"
	"aplomb/analyze/stats"
	"aplomb/device"
	"aplomb/device/platform"
)

// Row is the value of a measure in one relevé of one foot, with its conditions.
type Row struct {
	Dancer    string // code
	Visit     string // name of the visit, unique for the dancer
	Baseline  bool   // no change is expected between visits with this mark
	Recording string // name of the recording, whose relevés are one set
	At        time.Time
	Foot      device.Foot
	Shoe      string  // code
	Version   string  // version of the shoe, which changes with wear, alteration and new measurements
	Make      string  // properties in which different shoes differ, see MakeOf
	Hours     float64 // that the shoe was worn
	Strip     string
	Mounting  string // name of the mounting, "" where it has none
	Support   string
	Rise      string
	Also      Also
	N         int // number of the relevé in its recording, the same for both feet
	Value     float64

	// Uncertainty of Value in the unit of the measure, where known.
	U        float64          // standard uncertainty
	DOF      float64          // degrees of freedom of U; 0 and +Inf are unlimited
	USeat    float64          // the part of U that is independent between mountings: the seat of the strip
	SeatDOF  float64          // degrees of freedom of USeat; 0 where only those of U are known
	Evidence measure.Evidence // what the seat was found from

	// Sensor is the strip's contribution in addition to the seat. Where it is nil, the
	// parts are not known: all of U beyond the seat then counts in full, and cancels in
	// no change.
	Sensor  *sensor.Part
	Content string // of the strip, see sensor.Content

	Kern platform.Polygon // of the platform, mm, see measure.Platform; nil where it is not known

	code string // of the shoe, once Shoe is its label
}

// Also holds other conditions that may change a measure, "" or 0 where unknown. Visits in
// which they differ are followed together, and the difference is flagged.
type Also struct {
	Position, Floor, Fixing, Feedback string // see measure.Conditions
	Padding                           string
	Mark                              int // of the physical shoe in its pair
}

// Side is the foot, or pair of feet, of a series.
type Side string

const (
	Left    Side = "left"
	Right   Side = "right"
	Between Side = "left - right" // over the relevés that both feet made together
	Both    Side = "both feet"    // for a measure that is one number for both feet
)

// FollowUp is one measure of one dancer over visits.
type FollowUp struct {
	Dancer   string            `json:"dancer"`
	Measure  measure.Measure   `json:"measure"`
	Series   []Series          `json:"series"`
	Effect   mounting.Effect   `json:"mounting_effect"` // what differs between mountings beyond relevés and seat
	Warnings []measure.Warning `json:"warning_codes"`
	Texts    []string          `json:"warnings"` // Warnings in words, see package plots/words

	// Stop and VisitRecords are from the logbook and do not affect the numbers; they are
	// set by the caller.
	Stop         string          `json:"stop,omitempty"` // the advice to stop because of pain, of the last visit in which somebody asked for it
	VisitRecords []measure.Visit `json:"visit_records,omitempty"`

	Provenance *measure.Provenance `json:"provenance,omitempty"` // of the rows; set by the caller
}

// Series is one side in one shoe under the same conditions.
type Series struct {
	Side    Side           `json:"side"`
	Shoe    string         `json:"shoe"` // its code, with #1, #2 where one code has shoes of different outline or shank
	Support string         `json:"support,omitempty"`
	Rise    string         `json:"rise,omitempty"`
	Repeat  *Repeatability `json:"repeat,omitempty"` // absent where the repeatability is not known
	Points  []Point        `json:"points"`           // by time
	Wear    *Wear          `json:"wear,omitempty"`   // absent with fewer than three visits, or the same hours in all

	// Remounted is the number of the dancer's mountings on this side beyond the first of
	// their visit, in any shoe.
	Remounted int `json:"-"`

	Code string           `json:"-"` // of the shoe
	Kern platform.Polygon `json:"-"` // of the platform at the last visit, mm; nil for both feet, and where it is not known
}

// Wording is the statement that the data allow about a change.
type Wording string

const (
	// BeyondNoise is a difference from the reference that is larger than the minimal
	// detectable change and whose 95 % interval excludes 0.
	BeyondNoise Wording = "beyond noise"
	WithinNoise Wording = "within noise"
)

// Point is one visit. Its value is the mean of the means of its mountings.
type Point struct {
	Visit      string    `json:"visit"`
	At         time.Time `json:"at"` // time of its first recording in this shoe
	Baseline   bool      `json:"baseline,omitempty"`
	Reference  bool      `json:"reference,omitempty"` // the first baseline visit, or else the first visit
	N          int       `json:"n"`                   // number of relevés
	Mountings  int       `json:"mountings"`
	Hours      float64   `json:"hours_worn"` // of the shoe, the mean over the relevés
	Recordings []string  `json:"recordings"` // recordings of the relevés, by time
	Mean       float64   `json:"mean"`
	Change     *float64  `json:"change,omitempty"`  // difference from the reference; absent for the reference
	Wording    Wording   `json:"wording,omitempty"` // of declared measures; absent where Change, its uncertainty or Repeat is
	Flags      []Flag    `json:"flags,omitempty"`   // what else differs from the reference
	Fatigue    *Fatigue  `json:"fatigue,omitempty"` // absent with too few relevés

	// Uncertainties of Mean and Change from the relevés, seats and mounting effect of the
	// visits, without other differences between days. They are absent where the scatter
	// of relevés is not known.
	OfMean   *Uncertainty `json:"of_mean,omitempty"`
	OfChange *Uncertainty `json:"of_change,omitempty"`
}

// Fatigue is the common slope of a measure over the relevés of the sets of a visit
// (see stats.CommonSlope). A set has one mounting, so the slope has no uncertainty of
// mounting.
type Fatigue struct {
	Sets      int        `json:"sets"`       // number of sets
	N         int        `json:"n"`          // number of relevés
	PerReleve float64    `json:"per_releve"` // slope, unit of the measure a relevé
	U         float64    `json:"u"`          // standard uncertainty of PerReleve
	DOF       float64    `json:"dof"`
	CI95      [2]float64 `json:"ci95"`
	Clear     bool       `json:"clear"` // the interval excludes 0, and the measure is a declared one
}

// perPair is the measure that is the same number for both feet.
const perPair = measure.LoadShare

// Follow follows a measure of a dancer through rows. These may include other dancers,
// whose rows are used for the repeatability where this dancer has too few repetitions. It
// returns an error for a value that is not finite and where there are no rows of the
// dancer.
func Follow(m measure.Measure, dancer string, rows []Row) (*FollowUp, error) {
	return FollowWith(m, dancer, rows, nil)
}

// FollowWith is Follow with the repeatability found in a study, by side, instead of that
// of the rows. Sides that are not in study use that of the rows.
func FollowWith(m measure.Measure, dancer string, rows []Row, study map[Side]*Repeatability) (*FollowUp, error) {
	for _, r := range rows {
		if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
			return nil, fmt.Errorf("%s in recording %s, relevé %d: %v is no number: leave out what is not defined", m, r.Recording, r.N, r.Value)
		}
	}
	rows = slices.Clone(rows)
	slices.SortStableFunc(rows, func(a, b Row) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Recording, b.Recording), cmp.Compare(a.N, b.N), cmp.Compare(a.Foot, b.Foot))
	})
	labelShoes(rows)
	all := histories(m, rows)
	f := &FollowUp{
		Dancer: dancer, Measure: m, Series: []Series{}, Effect: mountingEffect(m, dancer, rows),
		Warnings: []measure.Warning{}, Texts: []string{},
	}
	for _, r := range all {
		if r.dancer == dancer {
			known := study[r.side]
			if known == nil {
				known = repeatability(r, all)
			}
			s := r.series(m, f.Effect, known)
			s.Remounted = remounted(r, all)
			f.Series = append(f.Series, s)
		}
	}
	if len(f.Series) == 0 {
		return nil, fmt.Errorf("%s of dancer %s: no measured relevé to follow", m, dancer)
	}
	f.addWarnings()
	return f, nil
}

// Keep removes the series for which keep is false, and the warnings about them.
func (f *FollowUp) Keep(keep func(Series) bool) {
	f.Series = slices.DeleteFunc(f.Series, func(s Series) bool { return !keep(s) })
	f.Warnings = []measure.Warning{}
	f.addWarnings()
}

// key distinguishes histories.
type key struct {
	dancer        string
	side          Side
	shoe          string
	support, rise string
}

// history holds the visits of one series.
type history struct {
	key
	code   string // of the shoe
	kern   platform.Polygon
	visits []*visit
}

// visit is the data of one visit in one series.
type visit struct {
	name     string
	at       time.Time
	baseline bool
	versions []string
	hours    []float64 // that the shoe was worn, by relevé
	strips   []string
	also     []Also
	sets     []*set
}

// set is the relevés of one recording, all in one mounting.
type set struct {
	recording, mounting string

	n, value       []float64
	seatU, seatDOF []float64 // standard uncertainty of value due to the seat
	from           [][]Row   // the rows from which value is computed: one, or left and right
}

// histories divides rows, sorted by time, into histories.
func histories(m measure.Measure, rows []Row) []*history {
	type pair struct {
		dancer, recording string
		n                 int
	}
	lefts, rightStrips := map[pair]Row{}, map[pair]string{}
	for _, r := range rows {
		if r.Foot == device.Right {
			rightStrips[pair{r.Dancer, r.Recording, r.N}] = r.Content
		}
	}
	var all []*history
	at := map[key]*history{}
	add := func(r Row, side Side, from ...Row) {
		k := key{r.Dancer, side, r.Shoe, r.Support, r.Rise}
		if at[k] == nil {
			at[k] = &history{key: k, code: r.code}
			all = append(all, at[k])
		}
		at[k].add(r, from)
	}
	for _, r := range rows {
		switch {
		case m == perPair:
			if r.Foot == device.Left {
				r.Content = joinNames(r.Content, cmp.Or(rightStrips[pair{r.Dancer, r.Recording, r.N}], r.Content))
				add(r, Both, r)
			}
			continue
		case r.Foot == device.Left:
			lefts[pair{r.Dancer, r.Recording, r.N}] = r
			add(r, Left, r)
			continue
		}
		add(r, Right, r)
		if l, both := lefts[pair{r.Dancer, r.Recording, r.N}]; both {
			add(leftLessRight(l, r), Between, l, r)
		}
	}
	slices.SortStableFunc(all, func(a, b *history) int {
		order := []Side{Left, Right, Between, Both}
		return cmp.Compare(slices.Index(order, a.side), slices.Index(order, b.side))
	})
	return all
}

// leftLessRight returns left − right of one relevé. Names of shoes, strips and
// mountings that differ between the feet are joined.
func leftLessRight(l, r Row) Row {
	d := l
	d.Value = l.Value - r.Value
	d.U, d.USeat = math.Hypot(l.U, r.U), math.Hypot(l.USeat, r.USeat)
	d.SeatDOF = min(l.seatDOF(), r.seatDOF())
	d.Strip = joinNames(l.Strip, r.Strip)
	d.Shoe, d.code = joinNames(l.Shoe, r.Shoe), joinNames(l.code, r.code)
	d.Version = joinNames(l.Version, r.Version)
	d.Also.Fixing, d.Also.Padding = joinNames(l.Also.Fixing, r.Also.Fixing), joinNames(l.Also.Padding, r.Also.Padding)
	if l.Mounting == "" || r.Mounting == "" {
		d.Mounting = ""
	} else {
		d.Mounting = joinNames(l.Mounting, r.Mounting)
	}
	return d
}

// joinNames returns the common name of both feet, or both names.
func joinNames(l, r string) string {
	if l == r {
		return l
	}
	return l + " / " + r
}

// seatDOF returns the degrees of freedom of USeat.
func (r Row) seatDOF() float64 {
	if dof := cmp.Or(r.SeatDOF, r.DOF); dof != 0 {
		return dof
	}
	return math.Inf(1)
}

// sensor returns the strip's contribution in addition to the seat.
func (r Row) sensor() sensor.Part {
	if r.Sensor != nil {
		return *r.Sensor
	}
	return sensor.Whole(math.Sqrt(max(0, r.U*r.U-r.USeat*r.USeat)))
}

// add adds a row whose value is computed from the rows of one foot or two.
func (r *history) add(row Row, from []Row) {
	i := slices.IndexFunc(r.visits, func(v *visit) bool { return v.name == row.Visit })
	if i < 0 {
		i = len(r.visits)
		r.visits = append(r.visits, &visit{name: row.Visit, at: row.At, baseline: row.Baseline})
	}
	if len(from) == 1 && r.side != Both {
		r.kern = row.Kern
	}
	v := r.visits[i]
	if !slices.Contains(v.versions, row.Version) {
		v.versions = append(v.versions, row.Version)
	}
	v.hours = append(v.hours, row.Hours)
	if !slices.Contains(v.strips, row.Strip) {
		v.strips = append(v.strips, row.Strip)
	}
	if !slices.Contains(v.also, row.Also) {
		v.also = append(v.also, row.Also)
	}
	j := slices.IndexFunc(v.sets, func(s *set) bool { return s.recording == row.Recording })
	if j < 0 {
		j = len(v.sets)
		v.sets = append(v.sets, &set{recording: row.Recording, mounting: row.Mounting})
	}
	s := v.sets[j]
	s.n, s.value = append(s.n, float64(row.N)), append(s.value, row.Value)
	s.seatU, s.seatDOF = append(s.seatU, row.USeat), append(s.seatDOF, row.seatDOF())
	s.from = append(s.from, from)
}

// groups returns the values of every mounting. A mounting without a name counts as a
// new one.
func (v *visit) groups() [][]float64 { return v.byMounting(false) }

// byMounting is groups, restricted to mountings with a name where named is true.
func (v *visit) byMounting(named bool) (groups [][]float64) {
	at := map[string]int{}
	for _, s := range v.sets {
		name := "named " + s.mounting
		if s.mounting == "" {
			if named {
				continue
			}
			name = "unnamed " + s.recording
		}
		i, known := at[name]
		if !known {
			i = len(groups)
			at[name], groups = i, append(groups, nil)
		}
		groups[i] = append(groups[i], s.value...)
	}
	return groups
}

// means returns the mean of each group.
func means(groups [][]float64) []float64 {
	out := make([]float64, len(groups))
	for i, g := range groups {
		out[i] = mean(g)
	}
	return out
}

// hoursWorn returns the mean over the relevés of the hours that the shoe was worn, h. The
// mean of equal hours is exactly these, so that it does not depend on the number of relevés.
func (v *visit) hoursWorn() (m float64) {
	for i, hours := range v.hours {
		m += (hours - m) / float64(i+1)
	}
	return m
}

// mean returns the mean of the means of the mountings.
func (v *visit) mean() float64 { return mean(means(v.groups())) }

// mean returns the arithmetic mean.
func mean(x []float64) (m float64) {
	for _, v := range x {
		m += v / float64(len(x))
	}
	return m
}

// series compares every visit with the reference.
func (r *history) series(m measure.Measure, of mounting.Effect, repeatability *Repeatability) Series {
	s := Series{Side: r.side, Shoe: r.shoe, Support: r.support, Rise: r.rise, Code: r.code, Kern: r.kern, Repeat: repeatability}
	from := max(0, slices.IndexFunc(r.visits, func(v *visit) bool { return v.baseline }))
	reference := r.visits[from]
	atReference := r.estimateOf(reference, of)
	declared := m.Describe().Kind == measure.Declared
	for i, v := range r.visits {
		now := r.estimateOf(v, of)
		p := Point{
			Visit: v.name, At: v.at, Baseline: v.baseline, Reference: i == from,
			Mountings: len(v.groups()), Hours: v.hoursWorn(), Mean: now.mean, OfMean: now.uncertainty(), Fatigue: v.fatigue(declared),
		}
		if m.Describe().Proportion && r.side != Between {
			p.OfMean.cut(0, 1)
		}
		for _, one := range v.sets {
			p.N += len(one.value)
			p.Recordings = append(p.Recordings, one.recording)
		}
		if i != from {
			change := p.Mean - atReference.mean
			p.Change, p.OfChange = &change, now.changeFrom(atReference)
			p.Flags = flags(reference, v)
			judged := true
			for foot := range now.strips {
				judged = judged && scale.Judged(m, reference.contents(foot), v.contents(foot))
			}
			if !judged {
				p.Flags = append(slices.DeleteFunc(p.Flags, func(f Flag) bool { return f == AnotherStrip }), AnotherScale)
			}
			if declared && judged && repeatability != nil && p.OfChange != nil {
				p.Wording = WithinNoise
				if math.Abs(change) > repeatability.MDC95 && p.OfChange.excludesZero() {
					p.Wording = BeyondNoise
				}
			}
		}
		s.Points = append(s.Points, p)
	}
	s.Wear = wearOf(s.Points)
	return s
}

// fatigue returns the common slope of the sets of a visit, nil where it has no
// uncertainty.
func (v *visit) fatigue(declared bool) *Fatigue {
	var sets []stats.Group
	for _, s := range v.sets {
		sets = append(sets, stats.Group{X: s.n, Y: s.value})
	}
	t := stats.CommonSlope(sets, 0, math.Inf(1))
	if math.IsNaN(t.U) || math.IsInf(t.DOF, 0) { // values exactly on a line have no residual
		return nil
	}
	ci := t.Interval95()
	return &Fatigue{
		Sets: len(sets), N: t.N, PerReleve: t.Slope, U: t.U, DOF: t.DOF,
		CI95: [2]float64{ci.Lo, ci.Hi}, Clear: declared && !ci.Contains(0),
	}
}
