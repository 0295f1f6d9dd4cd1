// Package mounting estimates the mounting effect: the standard deviation of a measure
// between mountings of a strip under one shoe, beyond the scatter of relevés and the seat
// of the strip. All relevés of one mounting have the same effect, so it does not average
// out over them.
//
// Its input are rows of numbers, from recordings or from the logbook, without a database.
package mounting

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"aplomb/analyze/measure"
)

// enoughDOF is the smallest number of degrees of freedom with which the mountings of one
// dancer, or of the other dancers, are used without others: our own choice. A standard
// deviation with 12 degrees of freedom has a relative standard error of about a fifth.
const enoughDOF = 12

// contradictsBelow is a probability: where a scatter between a dancer's mountings as
// large as the observed one is less probable, these mountings are used alone, however
// few. It is our own choice. It is this large because underestimating the scatter causes
// false claims, while overestimating it only hides true differences. The table of claims
// in package compare shows the effect.
const contradictsBelow = 0.3

// Row is the value of one measure in one relevé.
type Row struct {
	Dancer    string
	Recording string // id or name
	Group     string // shoe, foot, conditions and visit: its mountings measure the same thing
	Mounting  string // name within the group; rows without one are not used
	Measure   measure.Measure
	Value     float64          // in the unit of the measure
	SeatU     float64          // standard uncertainty of Value due to the seat of the strip
	Evidence  measure.Evidence // what the seat was found from
}

// Origin says whose mountings an effect is estimated from.
type Origin string

const (
	OfDancer  Origin = "dancer"  // this dancer's
	OfLogbook Origin = "logbook" // this dancer's and those of the other dancers
	Assumed   Origin = "assumed" // our assumption, together with what mountings there are
)

// Effect is the standard deviation between mountings beyond relevés and seat.
type Effect struct {
	SD       float64 `json:"sd"`       // in the unit of the measure, or as a share of it where Relative is set
	DOF      float64 `json:"dof"`      // degrees of freedom between mountings behind SD, those of an assumption included
	From     Origin  `json:"from"`     // see Origin
	Relative bool    `json:"relative"` // SD is a share of the measure's mean

	// Term is the contribution of SD to the denominator of the Welch-Satterthwaite
	// formula (JCGM 100:2008, G.4.1), the variance of SD² ÷ 2. It replaces SD⁴ ÷ degrees
	// of freedom, and unlike that is not 0 where mountings happen to differ by no more
	// than relevés and seat predict.
	Term float64 `json:"-"`

	Others bool `json:"-"` // mountings of other dancers are among those that SD is estimated from
}

// Share returns the contribution of one mounting to the variance of a measure, in the
// square of the measure's unit; mean is the mean of the measure.
func (e Effect) Share(mean float64) Share {
	scale := 1.0
	if e.Relative {
		scale = mean * mean
	}
	return Share{e.SD * e.SD * scale, e.Term * scale * scale}
}

// stratum holds the repeated mountings of one dancer whose seats have one kind of
// evidence.
type stratum struct {
	dof      float64 // between mountings, Σ (mountings − 1) over groups
	between  float64 // mean square of the means of mountings about those of their groups
	expected float64 // the part of between that relevés and seats predict
	term     float64 // Welch-Satterthwaite term of expected
}

// Pool is a set of repeated mountings.
type Pool struct {
	dancers []string // in order
	strata  map[key][]stratum
}

// key selects the strata of one dancer and measure.
type key struct {
	dancer  string
	measure measure.Measure
}

// Effect returns the mounting effect on a measure of a dancer. It is estimated from the
// dancer's own repeated mountings if they have 12 degrees of freedom or more; else
// together with those of the other dancers, if these have as many; else with those and
// the assumption of this package. Where the dancer's mountings differ by more than those
// of the others or the assumption predict, they are used alone.
func (p *Pool) Effect(dancer string, m measure.Measure) Effect {
	own := p.strata[key{dancer, m}]
	used, from := p.use(own, dancer, m)
	variance, term := excess(used)
	e := Effect{SD: math.Sqrt(variance), DOF: dof(used), From: from, Relative: assumed[m].relative, Term: term}
	switch from {
	case OfLogbook:
		e.Others = true
	case Assumed:
		e.Others = len(used) > len(own)+1 // own, the assumption and others
	}
	return e
}

// use returns the strata from which the effect on a dancer is estimated. own are those of
// the dancer.
func (p *Pool) use(own []stratum, dancer string, m measure.Measure) ([]stratum, Origin) {
	if dof(own) >= enoughDOF {
		return own, OfDancer
	}
	var others []stratum
	for _, other := range p.dancers {
		if other != dancer {
			others = append(others, p.strata[key{other, m}]...)
		}
	}
	from := OfLogbook
	if dof(others) < enoughDOF {
		others, from = append(others, assumption(m)), Assumed
	}
	variance, _ := excess(others)
	if scatterOf(own, math.Sqrt(variance)).P < contradictsBelow {
		return own, OfDancer
	}
	return slices.Concat(own, others), from
}

// dof returns the degrees of freedom of strata.
func dof(strata []stratum) (sum float64) {
	for _, s := range strata {
		sum += s.dof
	}
	return sum
}

// excess returns the variance between mountings beyond what relevés and seats predict,
// at least 0, and its Welch-Satterthwaite term.
//
// Every stratum gives the estimate between − expected, as a one-way analysis of variance
// with random effects does (stats.SplitOneWay). Estimates are averaged with the inverse
// of their variances, 2·(excess + expected)²/dof, as weights, which makes the average
// the maximum of the likelihood of the mean squares (restricted maximum likelihood:
// Searle, Casella & McCulloch, Variance Components (1992), chapter 6).
func excess(strata []stratum) (variance, term float64) {
	for _, s := range strata {
		variance = max(variance, s.between)
	}
	weights := make([]float64, len(strata))
	for range 200 {
		sum, total := 0.0, 0.0
		for i, s := range strata {
			spread := variance + s.expected
			if spread == 0 {
				return 0, 0 // nothing differs
			}
			weights[i] = s.dof / (spread * spread)
			sum += weights[i] * (s.between - s.expected)
			total += weights[i]
		}
		next := max(0, sum/total)
		term = 0
		for i, s := range strata {
			w := weights[i] / total
			term += w * w * (s.between*s.between/s.dof + s.term)
		}
		done := math.Abs(next-variance) <= 1e-12*(next+variance)
		variance = (variance + next) / 2
		if done || next == 0 && variance < 1e-12 {
			return next, term
		}
	}
	return variance, term
}

// scatterLevel is the significance level at which mountings are reported to differ by
// more than expected.
const scatterLevel = 0.05

// Scatter compares the scatter between mountings with what relevés, seats and the
// assumed mounting effect predict.
type Scatter struct {
	Observed float64 // standard deviation between means of mountings
	Expected float64
	DOF      float64
	P        float64 // probability of a scatter at least this large, by χ²; 1 without repeated mountings
}

// Larger reports whether mountings differ by more than expected.
func (s Scatter) Larger() bool { return s.P < scatterLevel }

// Scatter tests the scatter between the mountings of a dancer, jointly for several
// measures of one unit.
func (p *Pool) Scatter(dancer string, measures ...measure.Measure) Scatter {
	var all []stratum
	for _, m := range measures {
		all = append(all, p.strata[key{dancer, m}]...)
	}
	return scatterOf(all, assumed[measures[0]].sd)
}

// scatterOf tests the scatter of strata where the standard deviation of the mounting
// effect is sd.
func scatterOf(strata []stratum, sd float64) Scatter {
	s := Scatter{P: 1, DOF: dof(strata)}
	if s.DOF == 0 {
		return s
	}
	statistic := 0.0
	for _, one := range strata {
		expected := one.expected + sd*sd
		statistic += one.dof * one.between / expected
		s.Observed += one.dof * one.between / s.DOF
		s.Expected += one.dof * expected / s.DOF
	}
	s.Observed, s.Expected = math.Sqrt(s.Observed), math.Sqrt(s.Expected)
	s.P = distuv.ChiSquared{K: s.DOF}.Survival(statistic)
	return s
}

// New returns the pool of the repeated mountings in rows.
//
// A group with one mounting shows nothing about differences between mountings. The
// scatter of relevés is pooled over the groups of a stratum; where no mounting of it has
// two relevés, the stratum is left out.
func New(rows []Row) *Pool {
	type stratumKey struct {
		key
		evidence measure.Evidence
	}
	groups := map[stratumKey]map[string]*group{}
	var order []stratumKey
	for _, r := range rows {
		if r.Mounting == "" || r.Measure == 0 {
			continue
		}
		k := stratumKey{key{r.Dancer, r.Measure}, r.Evidence}
		if groups[k] == nil {
			groups[k] = map[string]*group{}
			order = append(order, k)
		}
		g := groups[k][r.Group]
		if g == nil {
			g = &group{number: map[string]int{}}
			groups[k][r.Group] = g
		}
		g.add(r)
	}
	p := &Pool{strata: map[key][]stratum{}}
	for _, k := range order {
		if !slices.Contains(p.dancers, k.dancer) {
			p.dancers = append(p.dancers, k.dancer)
		}
		if s, ok := stratumOf(groups[k], assumed[k.measure].relative); ok {
			p.strata[k.key] = append(p.strata[k.key], s)
		}
	}
	slices.Sort(p.dancers)
	return p
}

// group holds mountings that measure the same quantity.
type group struct {
	number map[string]int // of a mounting, by its name
	values [][]float64    // by mounting
	seatU  [][]float64    // standard uncertainty due to the seat, for each value
}

// add adds a row.
func (g *group) add(r Row) {
	i, known := g.number[r.Mounting]
	if !known {
		i = len(g.values)
		g.number[r.Mounting] = i
		g.values, g.seatU = append(g.values, nil), append(g.seatU, nil)
	}
	g.values[i], g.seatU[i] = append(g.values[i], r.Value), append(g.seatU[i], r.SeatU)
}

// stratumOf returns the stratum of groups; ok is false where it has no repeated
// mountings.
func stratumOf(groups map[string]*group, relative bool) (s stratum, ok bool) {
	var within, withinDOF, perReleve, seats, squares float64
	for _, name := range sortedKeys(groups) {
		g := groups[name]
		means := make([]float64, len(g.values))
		for i, v := range g.values {
			means[i] = mean(v)
		}
		scale := 1.0
		if relative {
			scale = math.Abs(mean(means))
		}
		if scale == 0 {
			continue
		}
		for i, values := range g.values {
			for _, v := range values {
				within += math.Pow((v-means[i])/scale, 2)
			}
			withinDOF += float64(len(values) - 1)
		}
		free := float64(len(means) - 1)
		if free == 0 {
			continue
		}
		s.dof += free
		centre := mean(means)
		for i, m := range means {
			squares += math.Pow((m-centre)/scale, 2)
			part := free / float64(len(means)) // of the variance of one mean in the expected sum of squares
			perReleve += part / float64(len(g.values[i]))
			u := mean(g.seatU[i]) / scale
			seats += part * u * u
		}
	}
	if s.dof == 0 || withinDOF == 0 {
		return s, false
	}
	releves := within / withinDOF * perReleve / s.dof
	s.between, s.expected, s.term = squares/s.dof, seats/s.dof+releves, releves*releves/withinDOF
	return s, true
}

// sortedKeys returns the names of groups in order.
func sortedKeys(groups map[string]*group) []string {
	names := make([]string, 0, len(groups))
	for name := range groups {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// mean returns the arithmetic mean.
func mean(x []float64) (m float64) {
	for _, v := range x {
		m += v / float64(len(x))
	}
	return m
}
