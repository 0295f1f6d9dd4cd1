package seat

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device/sim"
)

// names are those of the shared parameters in testdata.
var names = [shared]string{"medial", "over", "turn", "width", "depth", "domeMedial", "domeOver", "frontRadius",
	"backRadius", "pressBed", "holdBed", "pressSpread", "holdSpread", "pressCurve"}

// fitCase is one fit in testdata/maps.json.
type fitCase struct {
	Name    string       `json:"name"`
	Kind    string       `json:"kind"`
	Rows    int          `json:"rows"`
	Cols    int          `json:"cols"`
	Pitch   float64      `json:"pitch"`
	Outline [][2]float64 `json:"outline"`
	GainSD  float64      `json:"gain_sd"`
	Mean    vector       `json:"mean"`
	SD      vector       `json:"sd"`
	Free    []string     `json:"free"`
	Start   vector       `json:"start"`
	Planes  []plane      `json:"planes"`
	Maps    []fitMap     `json:"maps"`
}

type fitMap struct {
	KPa []float64 `json:"kPa"`
	S   []float64 `json:"s"`
}

// problemOf returns the fit of a case, and its initial point.
func problemOf(c *fitCase) (*problem, state) {
	strip := sim.SeatStrip()
	g := newGrid(strip)
	outline := sim.Scenarios()[0].Shoe().Outline()
	p := &problem{grid: g, shape: newShape(outline), mean: c.Mean, sd: c.SD, gains: make([]float64, strip.Cells()),
		gain: c.GainSD, scale: 1}
	p.scenes()
	if c.Kind == "holds" {
		p.kind = Hold
	}
	for _, m := range c.Maps {
		r := reading{p: m.KPa, s: m.S}
		for _, v := range m.KPa {
			r.most = max(r.most, v)
		}
		p.maps = append(p.maps, r)
	}
	s := state{v: c.Start, gains: make([]float64, strip.Cells()), planes: append([]plane(nil), c.Planes...)}
	return p, s
}

// The fit agrees with scipy's least_squares on the maps in testdata; the script is beside
// them. The script has its own model, so the tolerance allows for the table of distances
// and the coarser grid of the fit: 0.4 standard deviations of the fit with presses, which
// is about 0.01 mm, and one with holds on a stiff floor, 0.05 mm. Find adds a larger
// model's error to both.
func TestAgainstScipy(t *testing.T) {
	if os.Getenv("APLOMB_WRITE_MAPS") != "" {
		writeMaps(t)
	}
	var cases []fitCase
	var want []struct {
		Name   string             `json:"name"`
		Shared map[string]float64 `json:"shared"`
		Sum    float64            `json:"sum"`
		SD     map[string]float64 `json:"sd"`
	}
	load := func(name string, into any) {
		data, err := os.ReadFile("testdata/" + name)
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(data, into))
	}
	load("maps.json", &cases)
	load("scipy.json", &want)
	require.Len(t, want, len(cases))
	for i := range cases {
		c, w := &cases[i], want[i]
		t.Run(c.Name, func(t *testing.T) {
			require.Equal(t, c.Name, w.Name)
			p, s := problemOf(c)
			for range 3 {
				p.minimise(&s, 1e-7)
			}
			sum := p.cost(&s, make([]float64, len(s.gains)))
			var cov [shared][shared]float64
			p.covariance(&s, &cov, &step)
			t.Logf("sum %.2f (scipy %.2f)", sum, w.Sum)
			for k, name := range names {
				if sd, ok := w.SD[name]; ok {
					t.Logf("%-12s %9.4f  scipy %9.4f, standard deviation %.4f  scipy %.4f", name, s.v[k], w.Shared[name], math.Sqrt(cov[k][k]), sd)
				}
			}
			for k := range turn + 1 {
				name := names[k]
				within := 0.4 * w.SD[name]
				if c.Kind == "holds" {
					within = w.SD[name]
				}
				assert.InDelta(t, w.Shared[name], s.v[k], within, name)
				assert.InEpsilon(t, w.SD[name], math.Sqrt(cov[k][k]), 0.35, "standard deviation of %s", name)
			}
			assert.InEpsilon(t, w.Sum, sum, 0.1)
		})
	}
}

// writeMaps rewrites testdata/maps.json.
func writeMaps(t *testing.T) {
	var cases []fitCase
	for _, c := range []struct {
		name, scenario string
		given          given
		seed           uint64
	}{
		{"press, rounded 2 mm and stiffening foam", "rounded 2 mm, foam stiffens", given{press: true}, 5},
		{"press, back 3 mm and front 1 mm", "back 3 mm, front 1 mm", given{press: true}, 6},
		{"holds, rounded 2 mm", "rounded 2 mm", given{holds: true}, 7},
	} {
		s, err := sim.ScenarioNamed(c.scenario)
		require.NoError(t, err)
		setup := s.Setup(c.seed, 0, 6, 10)
		m, err := sim.NewMounting(setup)
		require.NoError(t, err)
		in := input(setup, m, c.given)
		kind, name := Press, "press"
		if c.given.holds {
			kind, name = Hold, "holds"
		}
		maps := condense(loaded(in, kind), kind)
		if n := len(maps); n > 6 {
			var some []reading // all round
			for i := range 6 {
				some = append(some, maps[i*n/6])
			}
			maps = some
		}
		f := fit(in, newShape(in.Outline), kind, maps, nil, &start)
		out := fitCase{Name: c.name, Kind: name, Rows: setup.Strip.Rows, Cols: setup.Strip.Cols, Pitch: setup.Strip.PitchMM[0],
			GainSD: in.GainSD, Mean: f.problem.mean, SD: f.problem.sd, Start: f.v}
		// The script starts near the result of the fit, but not at it.
		out.Start[medial] += 0.1
		out.Start[over] -= 0.1
		for i, n := range names {
			if concerns(i, kind) {
				out.Free = append(out.Free, n)
			}
		}
		for _, q := range in.Outline {
			out.Outline = append(out.Outline, q)
		}
		for i := range maps {
			r := &maps[i]
			q := f.planes[i]
			out.Planes = append(out.Planes, plane{1.01 * q[0], 0.99 * q[1], 1.01 * q[2]})
			for k := range r.p {
				r.p[k] = math.Round(r.p[k]*100) / 100
				r.s[k] = math.Round(r.s[k]*1000) / 1000
			}
			out.Maps = append(out.Maps, fitMap{r.p, r.s})
		}
		cases = append(cases, out)
	}
	data, err := json.Marshal(cases)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile("testdata/maps.json", data, 0o644))
}
