package compare

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/scale"
	"aplomb/device"
)

// fitting is a simulated fitting of two shoes, A and B: two mountings of each with six
// relevés on both feet, in the order A B B A. Standard deviations are in mm, N, or as a
// share where their name says so.
type fitting struct {
	apart     float64 // over in B less that in A, mm
	oneFoot   bool    // that on the left foot only
	recording float64 // of place between recordings
	seat      float64 // error of the strip's seat
	claimed   float64 // standard uncertainty that is stated for the seat
	evidence  measure.Evidence
	mountings int // of each shoe
	earlier   int // degrees of freedom of the dancer's earlier mountings
}

const (
	simReleves      = 6
	simReleveMM     = 0.5  // of place between relevés
	simLoadN        = 250  // mean load of a foot
	simLoadShare    = 0.03 // of load between recordings, as a share
	simReleveLoad   = 0.04 // of load between relevés, as a share
	simContact      = 0.02 // of contact share between recordings
	simReleveShare  = 0.03 // of contact share between relevés
	simContactSeat  = 0.01 // of contact share from the seat, true and stated
	simSpeedShare   = 0.2  // of sway speed between recordings, and between relevés, as a share
	simSeatDOF      = 8    // of an assumed seat
	simEarlierGroup = 2    // mountings of a shoe in an earlier visit
)

// simHold is one simulated hold before its uncertainty.
type simHold struct{ over, medial, contact, load, speed float64 }

// mounting simulates the relevés of one mounting.
func (f fitting) mounting(g *rand.Rand, over float64) (holds []simHold) {
	place := func() float64 { return f.recording*g.NormFloat64() + f.seat*g.NormFloat64() }
	x, y := over+place(), place()
	contact := 0.6 + simContact*g.NormFloat64() + simContactSeat*g.NormFloat64()
	load := simLoadN * (1 + simLoadShare*g.NormFloat64())
	speed := 15 * (1 + simSpeedShare*g.NormFloat64())
	for range simReleves {
		holds = append(holds, simHold{
			x + simReleveMM*g.NormFloat64(), y + simReleveMM*g.NormFloat64(), contact + simReleveShare*g.NormFloat64(),
			load * (1 + simReleveLoad*g.NormFloat64()), speed * (1 + simSpeedShare*g.NormFloat64()),
		})
	}
	return holds
}

// effect returns the stated effect of the seat.
func (f fitting) effect() measure.Effect {
	dof := measure.Unlimited
	if f.evidence == measure.EvidenceAssumed {
		dof = simSeatDOF
	}
	place := measure.StandardUncertainty{U: f.claimed, DOF: dof}
	return measure.Effect{Source: "seat", Common: measure.OfMounting, Evidence: f.evidence, U: map[measure.Measure]measure.StandardUncertainty{
		measure.Over: place, measure.Medial: place, measure.ContactShare: {U: simContactSeat, DOF: dof},
	}}
}

// recordings simulates the recordings of the fitting.
func (f fitting) recordings(g *rand.Rand) (all []*measure.Result) {
	order := "ABBA"[:2*f.mountings]
	effects := []measure.Effect{f.effect()}
	for at, code := range order {
		d := day{shoe: shoe(string(code)), mounting: fmt.Sprint(at), seatSD: f.claimed, left: make([]float64, simReleves), right: make([]float64, simReleves)}
		r := d.result(at)
		var feet [2][]simHold
		for _, foot := range device.Feet {
			over := 0.0
			if code == 'B' && (foot == device.Left || !f.oneFoot) {
				over = f.apart
			}
			feet[foot] = f.mounting(g, over)
		}
		for i := range r.Releves {
			one := &r.Releves[i]
			h := feet[one.Foot][one.N-1]
			share := feet[device.Left][one.N-1].load / (feet[device.Left][one.N-1].load + feet[device.Right][one.N-1].load)
			one.Hold = &measure.Hold{
				OverMM: h.over, MedialMM: h.medial, ContactShare: h.contact, LoadN: h.load, LoadShare: &share,
				Sway: &measure.Sway{SpeedMMS: h.speed}, Effects: effects,
			}
		}
		all = append(all, r)
	}
	return all
}

// rows simulates the earlier mountings.
func (f fitting) rows(g *rand.Rand) (rows []mounting.Row) {
	for visit := range f.earlier {
		for m := range simEarlierGroup {
			left, right := f.mounting(g, 0), f.mounting(g, 0)
			for i, h := range left {
				row := func(of measure.Measure, v, u float64) {
					rows = append(rows, mounting.Row{Group: fmt.Sprint(visit), Mounting: fmt.Sprint(m), Measure: of, Value: v, SeatU: u, Evidence: f.evidence})
				}
				row(measure.Over, h.over, f.claimed)
				row(measure.Medial, h.medial, f.claimed)
				row(measure.ContactShare, h.contact, simContactSeat)
				row(measure.Load, h.load, 0)
				row(measure.LoadShare, h.load/(h.load+right[i].load), 0)
			}
		}
	}
	return rows
}

// The comparison names the other recordings behind its mounting effects.
func TestEarlierRecordingsAreNamed(t *testing.T) {
	press := fitting{recording: 0.3, seat: 0.2, claimed: 0.2, evidence: measure.EvidencePress, mountings: 1, earlier: 12}
	g := rand.New(rand.NewPCG(13, 13))
	rows := press.rows(g)
	for i := range rows {
		rows[i].Recording = "earlier"
	}
	other := rows[0] // one mounting says nothing of mountings, so it is not used
	other.Dancer, other.Recording = "D9", "another dancer's"
	rows = append(rows, other)
	c, err := Results(press.recordings(g), Options{Earlier: rows})
	require.NoError(t, err)
	assert.Equal(t, mounting.OfDancer, c.Mountings[measure.Over].From)
	assert.Equal(t, mounting.Assumed, c.Mountings[measure.SwaySpeed].From, "no earlier recording has it")
	assert.Equal(t, []string{"earlier"}, c.Earlier)
	assert.Equal(t, 0, int(c.Shoes[0].Measures[measure.Over].N-simReleves), "they enter no mean")

	other.Measure = measure.SwaySpeed
	for i := range 4 {
		other.Mounting, other.Value = fmt.Sprint(i/2), float64(i)
		rows = append(rows, other)
	}
	c, err = Results(press.recordings(g), Options{Earlier: rows})
	require.NoError(t, err)
	assert.Equal(t, []string{"earlier", "another dancer's"}, c.Earlier)
}

// One relevé in each of four mountings has an interval from the scatter between them; one
// mounting without a name is no repeated mounting, and one relevé alone has no interval.
func TestMountingsOfOneReleve(t *testing.T) {
	var results []*measure.Result
	for i, over := range []float64{0, 0.2, -0.3, 0.1, 5, 5.3, 4.8, 5.1} {
		code := "A"
		if i >= 4 {
			code = "B"
		}
		results = append(results, day{shoe: shoe(code), mounting: fmt.Sprint(i), left: []float64{over}, seatSD: 0.2}.result(i))
	}
	c, err := Results(results, Options{})
	require.NoError(t, err)
	assert.Equal(t, mounting.Assumed, c.Mountings[measure.Over].From, "without relevés to tell them from, mountings show no effect")
	d := c.difference(t, measure.Over, device.Left)
	assert.Equal(t, Clear, d.Wording)
	assert.Greater(t, d.U, math.Hypot(0.3, 0.2)/math.Sqrt2, "seat and mounting effect are in it")

	for _, r := range results {
		r.Meta.Sides[device.Left].Mounting = ""
	}
	unnamed, err := Results(results, Options{})
	require.NoError(t, err)
	assert.Equal(t, 2.0, unnamed.Mountings[measure.Over].DOF)
	alone, err := Results([]*measure.Result{results[0], results[4]}, Options{})
	require.NoError(t, err)
	d = alone.difference(t, measure.Over, device.Left)
	assert.Nil(t, d.CI95)
	assert.Nil(t, d.P)
	assert.Equal(t, CouldBeChance, d.Wording)
	_, err = json.Marshal(alone)
	require.NoError(t, err)
}

// tally counts outcomes of simulated fittings.
type tally struct {
	overEither  int // over is clear on either foot
	overLeft    int // over is clear on the left foot
	anyDeclared int // a difference in a declared measure is clear
	feet        int // left less right is clear in over in either shoe
	tiring      int // a trend is worded as warming up or tiring
	said        int // a warning about the scatter of mountings
	saidNoClear int // and over is clear on no foot
	holds       int // intervals of a difference in over that contain it, of two a fitting
	holdsOthers int // of medial, contact share and load, of six a fitting
}

func (f fitting) run(t *testing.T, n int, seed uint64) (all tally) {
	g := rand.New(rand.NewPCG(13, seed))
	for range n {
		c, err := Results(f.recordings(g), Options{Earlier: f.rows(g)})
		require.NoError(t, err)
		over, declared, said, tiring, feet := false, false, false, false, false
		for _, d := range c.Differences {
			declared = declared || d.Wording == Clear
			truth := 0.0
			switch d.Measure {
			case measure.Over:
				over = over || d.Wording == Clear
				if d.Wording == Clear && d.Foot == device.Left {
					all.overLeft++
				}
				if d.Foot == device.Left || !f.oneFoot {
					truth = f.apart
				}
				if d.CI95[0] <= truth && truth <= d.CI95[1] {
					all.holds++
				}
			case measure.Medial, measure.ContactShare, measure.Load:
				if d.CI95[0] <= 0 && 0 <= d.CI95[1] {
					all.holdsOthers++
				}
			}
		}
		for _, d := range c.Feet {
			feet = feet || d.Measure == measure.Over && d.Wording == Clear
		}
		for _, w := range c.Warnings {
			said, tiring = said || w.Code == measure.MountingsScatter, tiring || w.Code == measure.Trend
		}
		for _, one := range []struct {
			happened bool
			count    *int
		}{{over, &all.overEither}, {declared, &all.anyDeclared}, {tiring, &all.tiring}, {said, &all.said}, {said && !over, &all.saidNoClear}, {feet, &all.feet}} {
			if one.happened {
				*one.count++
			}
		}
	}
	return all
}

// limit is a bound of a share. A short run is held to a bound that a method with exactly
// this share fails once in a thousand times.
type limit struct{ share float64 }

func (l limit) atMost(t *testing.T, count, of int, what string) {
	most := l.share * float64(of)
	if os.Getenv("APLOMB_LONG") == "" {
		most = binomialQuantile(0.999, of, l.share)
	}
	assert.LessOrEqual(t, float64(count), most, "%s: %d of %d", what, count, of)
}

func (l limit) atLeast(t *testing.T, count, of int, what string) {
	limit{1 - l.share}.atMost(t, of-count, of, "not "+what)
}

// binomialQuantile returns the least count that is not exceeded with probability p.
func binomialQuantile(p float64, n int, share float64) float64 {
	d := distuv.Binomial{N: float64(n), P: share}
	k := math.Floor(share * float64(n))
	for d.CDF(k) < p {
		k++
	}
	return k
}

// Absent differences are called clear no more often than Holm's adjustment allows,
// intervals contain the true difference, and a difference of 1.5 mm is detected. Each row
// simulates 2,000 fittings with APLOMB_LONG, 25 otherwise.
func TestClaimsTable(t *testing.T) {
	n := 25
	if os.Getenv("APLOMB_LONG") != "" {
		n = 2000
	}
	press := fitting{recording: 0.3, seat: 0.2, claimed: 0.2, evidence: measure.EvidencePress, mountings: 2}
	with := func(change func(*fitting)) fitting { f := press; change(&f); return f }
	rows := []struct {
		name string
		fitting
		power float64 // the left foot is clear at least so often; 0: not held to a bound
	}{
		{"identical", press, 0},
		{"identical, recordings alike", with(func(f *fitting) { f.recording = 0 }), 0},
		{"identical, recordings 0.6 mm apart", with(func(f *fitting) { f.recording = 0.6 }), 0},
		{"identical, recordings 1 mm apart", with(func(f *fitting) { f.recording = 1 }), 0},
		{"identical, 2 degrees of freedom before", with(func(f *fitting) { f.earlier = 2 }), 0},
		{"identical, 12 degrees of freedom before", with(func(f *fitting) { f.earlier = 12 }), 0},
		{"1.5 mm apart", with(func(f *fitting) { f.apart = 1.5 }), 0},
		{"1.5 mm apart, 2 degrees of freedom before", with(func(f *fitting) { f.apart, f.earlier = 1.5, 2 }), 0},
		{"1.5 mm apart, 12 degrees of freedom before", with(func(f *fitting) { f.apart, f.earlier = 1.5, 12 }), 0.8},
		{"1.5 mm apart on one foot, 12 before", with(func(f *fitting) { f.apart, f.oneFoot, f.earlier = 1.5, true, 12 }), 0},
		{"identical, one mounting each", with(func(f *fitting) { f.mountings = 1 }), 0},
		{"no press, 2 mm where 0.2 is claimed", with(func(f *fitting) {
			f.seat, f.recording, f.evidence = 2, 0, measure.EvidenceAssumed
		}), 0},
	}
	// Recordings 1 mm apart are three times what is assumed: their intervals are held to
	// a bound, and how often they make a false claim is printed.
	fmt.Println("shoes                                        over   left   any declared   feet   tiring   said   interval holds   of others")
	for i, row := range rows {
		got := row.run(t, n, uint64(i))
		percent := func(count, of int) float64 { return 100 * float64(count) / float64(of) }
		fmt.Printf("%-42s  %4.1f %%  %4.1f %%  %10.1f %%  %4.1f %%  %5.1f %%  %4.1f %%  %12.1f %%  %8.1f %%\n", row.name, percent(got.overEither, n), percent(got.overLeft, n),
			percent(got.anyDeclared, n), percent(got.feet, n), percent(got.tiring, n), percent(got.said, n), percent(got.holds, 2*n), percent(got.holdsOthers, 6*n))
		if row.apart == 0 && row.recording <= 0.3 {
			limit{0.06}.atMost(t, got.overEither, n, row.name+": over is clear")
			limit{0.11}.atMost(t, got.anyDeclared, n, row.name+": a declared measure is clear")
		}
		limit{0.06}.atMost(t, got.tiring, n, row.name+": tiring is said")
		limit{0.93}.atLeast(t, got.holds, 2*n, row.name+": the interval holds the difference")
		if row.power > 0 {
			limit{row.power}.atLeast(t, got.overLeft, n, row.name+": over is clear on the left foot")
		}
		if row.evidence == measure.EvidenceAssumed {
			limit{0.93}.atLeast(t, got.saidNoClear, n, row.name+": scatter is said and nothing is clear")
		}
	}
}

// Load has no p-value and no wording if the strip was recalibrated, its scale has moved
// by its checks, or the shoes were on two strips; load share then has none either, on
// both feet. Other measures keep theirs.
func TestLoadIsJudgedOnOneScale(t *testing.T) {
	press := fitting{recording: 0.3, seat: 0.2, claimed: 0.2, evidence: measure.EvidencePress, mountings: 1}
	check := func(day int, bias float64) scale.Check {
		return scale.Check{Strip: "left", Day: scale.DayOf(made.Local()).AddDate(0, 0, day), Pass: true, Presses: 5, Bias: bias, RMSLoad: math.Hypot(bias, 0.002), LimitLoad: 0.1, LimitCoPMM: 1}
	}
	for name, of := range map[string]struct {
		change func(*measure.Result)
		checks []scale.Check
		judged bool
	}{
		"one strip":        {func(*measure.Result) {}, []scale.Check{check(0, 0)}, true},
		"two strips":       {func(r *measure.Result) { restrip(r, func(s *device.Strip) { s.Name = "L-02" }) }, nil, false},
		"calibrated again": {func(r *measure.Result) { restrip(r, func(s *device.Strip) { s.Calibration.GainSD = 0.02 }) }, nil, false},
		"moved":            {func(r *measure.Result) { r.Meta.Started = r.Meta.Started.AddDate(0, 0, 7) }, []scale.Check{check(0, 0), check(7, 0.05)}, false},
	} {
		results := press.recordings(rand.New(rand.NewPCG(13, 1)))
		of.change(results[1])
		c, err := Results(results, Options{Checks: of.checks})
		require.NoError(t, err)
		for _, d := range c.Differences {
			judged := of.judged || d.Measure != measure.LoadShare && (d.Measure != measure.Load || d.Foot == device.Right)
			if d.Measure.Describe().Kind == measure.Declared {
				assert.Equal(t, judged, d.Wording != "", "%s: %s %s", name, d.Foot, d.Measure)
				assert.Equal(t, judged, d.P != nil, "%s: %s %s", name, d.Foot, d.Measure)
				assert.NotNil(t, d.CI95)
			}
		}
	}
}

// restrip changes a copy of the left strip of a recording.
func restrip(r *measure.Result, change func(*device.Strip)) {
	side := *r.Meta.Sides[device.Left]
	strip := *side.Strip
	change(&strip)
	side.Strip = &strip
	r.Meta.Sides[device.Left] = &side
}
