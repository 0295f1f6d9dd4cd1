package exampledata

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/analyze/verdict"
	"aplomb/device"
)

// seatMM and dof replace the standard uncertainty of the seat, mm, and the degrees of
// freedom of a real comparison.
const (
	seatMM = 1.0
	dof    = 10.0
)

func comparison(results []*measure.Result, cases []ShoeCase, feet []device.Foot, mountings int) *compare.Comparison {
	c := &compare.Comparison{
		Dancer:     "D-07",
		Provenance: provenance.Of(results),
		Answer:     oneShoe(cases[0]),
		Warnings:   []measure.Warning{measure.Warn(measure.SeatAssumed, measure.Values{Strip: "L-01", MM: seatMM})},
	}
	for _, s := range cases {
		for _, foot := range feet {
			c.Shoes = append(c.Shoes, shoeFoot(results, s, foot, mountings))
		}
	}
	for _, to := range cases[1:] {
		for _, foot := range feet {
			c.Differences = append(c.Differences, differences(c, cases[0].Shoe.Code, to.Shoe.Code, foot)...)
		}
	}
	if len(cases) == 3 {
		for _, foot := range feet {
			between := differences(c, cases[1].Shoe.Code, cases[2].Shoe.Code, foot)
			c.Between = append(c.Between, slices.DeleteFunc(between, func(d compare.Difference) bool { return d.Measure != measure.Over })...)
		}
	}
	if len(feet) == 2 {
		for _, s := range cases {
			c.Feet = append(c.Feet, feetDiffs(results, s.Shoe.Code, mountings)...)
		}
	}
	if len(cases) > 1 {
		c.Preferred = cases[1].Shoe.Code
		if len(results[0].Releves) > 2 {
			c.RestsOn = &compare.VarianceShares{
				Foot: feet[0], Measure: measure.Over, From: cases[0].Shoe.Code, To: cases[1].Shoe.Code,
				HalfWidth: 2.3, Dancer: 0.06, Mounting: 0.937, Sensor: 0.003,
				Remedies: []compare.Remedy{{Do: "mounting the strip 3 times under each shoe", HalfWidth: 1.9}, {Do: "3 more relevés in each shoe", HalfWidth: 2.3}},
			}
		}
		c.Answer, c.Findings = answer(cases), findings(c, feet)
	}
	c.Why = strings.TrimSpace(c.Answer + " " + strings.Join(c.Findings, " "))
	return c
}

// answer returns the headline of several shoes: those over the box first.
func answer(cases []ShoeCase) string {
	shoes := map[measure.Verdict][]string{}
	for _, s := range cases {
		v := s.Verdict[device.Left]
		shoes[v] = append(shoes[v], s.Shoe.Code)
	}
	var said []string
	for _, v := range []measure.Verdict{measure.OverTheBox, measure.PulledBack, measure.TooCloseToCall} {
		if shoes[v] != nil {
			phrase := verdict.Phrase(v, nil, 0)
			if said == nil {
				phrase = strings.ToUpper(phrase[:1]) + phrase[1:] + " on both feet"
			}
			said = append(said, phrase+" in "+listed(shoes[v]))
		}
	}
	return strings.Join(said, ", ") + "."
}

// listed lists codes of shoes.
func listed(shoes []string) string {
	last := len(shoes) - 1
	if last == 0 {
		return shoes[0]
	}
	return strings.Join(shoes[:last], ", ") + " and " + shoes[last]
}

// findings returns the findings for each foot: where the load sits in each shoe.
func findings(c *compare.Comparison, feet []device.Foot) (all []string) {
	for _, foot := range feet {
		var said []string
		for _, s := range c.Shoes {
			if s.Foot == foot {
				said = append(said, compare.SitsText(s.Shoe, verdict.Sits(s.Verdict, s.Misses, 0), []string{compare.PlaceText(measure.Over, s.Measures[measure.Over])}, len(said) > 0))
			}
		}
		name := foot.String()
		all = append(all, strings.ToUpper(name[:1])+name[1:]+" foot: "+strings.Join(said, " "))
	}
	return all
}

// oneShoe returns the headline of a single shoe, as package compare writes it.
func oneShoe(s ShoeCase) string {
	said := map[measure.Verdict]string{measure.OverTheBox: "the load sits over the box on both feet", measure.PulledBack: "the load sits behind the kern (pulled back) on both feet"}[s.Verdict[device.Left]]
	if said == "" {
		said = "it is too close to call on both feet whether the load sits over the box: one more mounting would decide"
	}
	return "In shoe " + s.Shoe.Code + " " + said + "."
}

// insideAs returns a probability of lying inside the kern under which a verdict is given.
func insideAs(v measure.Verdict) float64 {
	switch v {
	case measure.OverTheBox:
		return 0.99
	case measure.TooCloseToCall:
		return 0.4
	}
	return 0.004
}

func shoeFoot(results []*measure.Result, s ShoeCase, foot device.Foot, mountings int) compare.ShoeFoot {
	st := strip(foot)
	f := compare.ShoeFoot{
		Shoe: s.Shoe.Code, Foot: foot, Conditions: measure.Conditions{Support: "barre", Rise: "roll-up"}, Mountings: mountings,
		Verdict: s.Verdict[foot], PInside: insideAs(s.Verdict[foot]), Measures: map[measure.Measure]compare.Summary{},
		Profile: s.Shoe, Platform: platformOf(&s.Shoe, st), MeanMap: make([]float64, st.Cells()), Strip: *st,
	}
	mounting := -1
	for _, r := range results {
		if *r.Recording.Shoes.Of(foot) != s.Shoe.Code {
			continue
		}
		mounting++
		for _, rel := range r.Releves {
			if rel.Foot == foot && rel.Hold != nil {
				f.Releves, f.Mounting = append(f.Releves, rel), append(f.Mounting, mounting)
			}
		}
	}
	f.N = len(f.Releves)
	for _, rel := range f.Releves {
		for k, v := range rel.Map {
			f.MeanMap[k] += v / float64(f.N)
		}
	}
	for _, m := range measure.All() {
		var v []float64
		for _, rel := range f.Releves {
			if x, ok := rel.Value(m); ok {
				v = append(v, x)
			}
		}
		if len(v) > 0 {
			f.Measures[m] = summary(m, v, mountings)
		}
	}
	return f
}

// seat returns the standard deviation of a measure between mountings.
func seat(m measure.Measure) float64 {
	return map[measure.Measure]float64{measure.Over: seatMM, measure.Medial: seatMM, measure.ContactShare: 0.05, measure.EdgeDistance: seatMM, measure.KernRatio: 0.3}[m]
}

func summary(m measure.Measure, v []float64, mountings int) compare.Summary {
	mean, sd := stat.MeanStdDev(v, nil)
	s := compare.Summary{N: len(v), Mean: mean}
	if len(v) < 2 {
		s.U = seat(m)
		return s
	}
	d := dof
	s.SD, s.DOF = &sd, &d
	s.U = math.Sqrt(sd*sd/float64(len(v)) + seat(m)*seat(m)/float64(mountings))
	s.CI95 = interval(mean, s.U)
	if m.Describe().Proportion {
		s.CI95[0], s.CI95[1] = max(0, s.CI95[0]), min(1, s.CI95[1])
	}
	return s
}

func interval(mean, u float64) *[2]float64 {
	t := distuv.StudentsT{Sigma: 1, Nu: dof}.Quantile(0.975)
	return &[2]float64{mean - t*u, mean + t*u}
}

func differences(c *compare.Comparison, from, to string, foot device.Foot) []compare.Difference {
	var a, b *compare.ShoeFoot
	for i := range c.Shoes {
		switch s := &c.Shoes[i]; {
		case s.Foot == foot && s.Shoe == from:
			a = s
		case s.Foot == foot && s.Shoe == to:
			b = s
		}
	}
	var out []compare.Difference
	for _, m := range measure.All() {
		x, y := a.Measures[m], b.Measures[m]
		if x.N == 0 || y.N == 0 {
			continue
		}
		d := compare.Difference{
			Foot: foot, Measure: m, From: from, To: to, NFrom: x.N, NTo: y.N, MountingsFrom: a.Mountings, MountingsTo: b.Mountings,
			MeanFrom: x.Mean, MeanTo: y.Mean, Difference: y.Mean - x.Mean, U: math.Hypot(x.U, y.U), Wording: compare.CouldBeChance,
		}
		if x.CI95 != nil && y.CI95 != nil {
			free := dof
			d.CI95, d.DOF = interval(d.Difference, d.U), &free
			d.Wording = wording(*d.CI95, d.Difference, math.Hypot(*x.SD, *y.SD))
		}
		if m.Describe().Kind != measure.Declared {
			d.Wording = ""
		}
		out = append(out, d)
	}
	return out
}

func wording(ci [2]float64, d, scatter float64) compare.Wording {
	switch {
	case ci[0] > 0 || ci[1] < 0:
		return compare.Clear
	case math.Abs(d) > scatter:
		return compare.WithinMounting
	}
	return compare.CouldBeChance
}

func feetDiffs(results []*measure.Result, shoe string, mountings int) []compare.FeetDiff {
	var out []compare.FeetDiff
	for _, m := range measure.All() {
		d := compare.FeetDiff{Shoe: shoe, Measure: m}
		var diff []float64
		for _, r := range results {
			for i := 0; i+1 < len(r.Releves); i++ {
				l, rt := r.Releves[i], r.Releves[i+1]
				if *r.Recording.Shoes.Left != shoe || l.N != rt.N || l.Hold == nil || rt.Hold == nil {
					continue
				}
				x, okL := l.Value(m)
				y, okR := rt.Value(m)
				if !okL || !okR || m == measure.LoadShare {
					continue
				}
				d.Pairs = append(d.Pairs, [2]float64{x, y})
				diff = append(diff, x-y)
				d.Left, d.Right = d.Left+x, d.Right+y
			}
		}
		if d.N = len(d.Pairs); d.N == 0 {
			continue
		}
		d.Left, d.Right = d.Left/float64(d.N), d.Right/float64(d.N)
		d.Difference, d.Wording = d.Left-d.Right, compare.CouldBeChance
		if d.N > 1 {
			sd := stat.StdDev(diff, nil)
			d.U = math.Hypot(sd/math.Sqrt(float64(d.N)), math.Sqrt2*seat(m)/math.Sqrt(float64(mountings)))
			d.CI95 = interval(d.Difference, d.U)
			d.Wording = wording(*d.CI95, d.Difference, sd)
		}
		if m.Describe().Kind != measure.Declared {
			d.Wording = ""
		}
		out = append(out, d)
	}
	return out
}
