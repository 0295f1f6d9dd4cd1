package releve_test

import (
	"context"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/analyze/releve"
	"aplomb/analyze/trace"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/sim"
)

// This file looks for pad presses in simulated recordings with and without one. What
// happens before the relevés is made as load and centre of pressure at 100 Hz; the
// relevés are those of the simulator's dancer, frame by frame through package trace.

// person is who makes a recording: a dancer on one or two strips, and her fitter.
type person struct {
	rng     *rand.Rand
	massKG  float64
	outline platform.Polygon
	half    platform.Point    // half width and half depth, mm
	seat    [2]platform.Point // by how much the places on each strip are off, mm
	strips  [2]bool
	onOne   bool // rises on one foot
	samples [2][]measure.Sample
	now     float64 // s
}

const rateHz = 100

func newPerson(seed uint64) *person {
	p := &person{rng: rand.New(rand.NewPCG(seed, 7))}
	p.massKG = p.between(25, 75)
	size := [2]float64{p.between(32, 38), p.between(18, 24)}
	p.outline = (&device.Shoe{Code: "A", PlatformMM: size, OutlineExponent: 2.5}).Outline()
	p.half = platform.Point{size[0] / 2, size[1] / 2}
	p.strips = [2]bool{true, true}
	if p.rng.IntN(3) == 0 {
		p.strips[p.rng.IntN(2)] = false
	}
	p.onOne = p.rng.IntN(5) == 0
	for f := range p.seat {
		for k := range p.seat[f] {
			p.seat[f][k] = 1.2 * p.rng.NormFloat64()
		}
	}
	return p
}

func (p *person) between(lo, hi float64) float64 { return lo + (hi-lo)*p.rng.Float64() }

// weightN returns the weight of the dancer, N.
func (p *person) weightN() float64 { return p.massKG * device.StandardGravity }

// anyFoot returns a foot that has a strip.
func (p *person) anyFoot() device.Foot {
	f := device.Foot(p.rng.IntN(2))
	if !p.strips[f] {
		f = f.Other()
	}
	return f
}

// state is the load on each platform, N, and where it acts, as shares of half the
// width and half the depth.
type state struct {
	load [2]float64
	at   [2]platform.Point
}

// does appends some seconds of samples. do gives the state at a time since then.
func (p *person) does(seconds float64, do func(t float64) state) {
	for n := range int(seconds * rateHz) {
		t := float64(n) / rateHz
		s := do(t)
		for f := range s.load {
			if !p.strips[f] {
				continue
			}
			one := measure.Sample{T: p.now + t, LoadN: float32(s.load[f] + 0.5*p.rng.NormFloat64()), MedialMM: float32(math.NaN()), OverMM: float32(math.NaN())}
			if one.LoadN >= trace.LoadFloorN {
				q := platform.Point{s.at[f][0] * p.half[0], s.at[f][1] * p.half[1]}
				if r, most := math.Hypot(q[0], q[1]), 0.97*p.outline.Reach(q); r > most {
					q[0], q[1] = q[0]*most/r, q[1]*most/r
				}
				one.MedialMM = float32(q[0] + p.seat[f][0] + 0.05*p.rng.NormFloat64())
				one.OverMM = float32(q[1] + p.seat[f][1] + 0.05*p.rng.NormFloat64())
			}
			p.samples[f] = append(p.samples[f], one)
		}
	}
	p.now += float64(int(seconds*rateHz)) / rateHz
}

func (p *person) rests(seconds float64) { p.does(seconds, func(float64) state { return state{} }) }

// wander returns a smooth random course about 0 with a standard deviation: sines up to
// a frequency, Hz, the faster the smaller.
func (p *person) wander(sd, upToHz float64) func(t float64) float64 {
	const n = 6
	var size, hz, phase [n]float64
	sum := 0.0
	for i := range n {
		hz[i], phase[i] = p.between(0.05, upToHz), p.between(0, 2*math.Pi)
		size[i] = p.rng.NormFloat64() / (0.3 + hz[i])
		sum += size[i] * size[i] / 2
	}
	return func(t float64) float64 {
		x := 0.0
		for i := range n {
			x += size[i] * math.Sin(2*math.Pi*hz[i]*t+phase[i])
		}
		return sd * x / math.Sqrt(sum)
	}
}

// swell goes from 0 to 1 and back within a length, s, with ramps.
func swell(t, length, ramp float64) float64 { return max(0, min(1, t/ramp, (length-t)/ramp)) }

// activities are what a dancer, or the hands about her shoe, may do on a strip before
// the first relevé, and that is no pad press.
var activities = []struct {
	name string
	do   func(p *person)
}{
	{"walks on the tips", func(p *person) {
		share := p.between(0.7, 1.1)
		for i := range 4 + p.rng.IntN(10) {
			f, length := i%2, p.between(0.2, 0.6)
			at := platform.Point{p.between(-0.4, 0.4), p.between(-0.9, 0.6)}
			drift := platform.Point{p.between(-0.5, 0.5), p.between(-0.6, 0.6)}
			p.does(length, func(t float64) (s state) {
				s.load[f] = share * p.weightN() * swell(t, length, 0.08)
				s.at[f] = platform.Point{at[0] + drift[0]*t/length, at[1] + drift[1]*t/length}
				return s
			})
		}
	}},
	{"walks on flat feet, which touches the back edge", func(p *person) {
		for i := range 4 + p.rng.IntN(16) {
			f, length, load := i%2, p.between(0.1, 0.3), p.between(20, 150)
			at, drift := platform.Point{p.between(-0.6, 0.6), p.between(-0.97, -0.7)}, p.between(-0.4, 0.4)
			p.does(length, func(t float64) (s state) {
				s.load[f] = load * swell(t, length, 0.05)
				s.at[f] = platform.Point{at[0] + drift*t/length, at[1]}
				return s
			})
			p.rests(p.between(0.1, 0.5))
		}
	}},
	{"rolls through demi-pointe", func(p *person) {
		both := p.rng.IntN(2) == 0
		one := p.anyFoot()
		load := p.between(40, 200)
		for range 1 + p.rng.IntN(5) {
			length, most, ramp := p.between(0.8, 4), p.between(-0.4, 0.6), p.between(0.1, 0.4)
			sway := p.wander(p.between(0.05, 0.25), 1)
			p.does(length, func(t float64) (s state) {
				for f := range s.load {
					if both || f == int(one) {
						s.load[f] = load * swell(t, length, ramp)
						s.at[f] = platform.Point{sway(t), -0.95 + (most+0.95)*math.Sin(math.Pi*t/length)}
					}
				}
				return s
			})
			p.rests(p.between(0.2, 1.5))
		}
	}},
	{"turns round on pointe to find the balance", func(p *person) {
		share, both := p.between(0.85, 1.1), p.rng.IntN(2) == 0
		one := p.anyFoot()
		if both {
			share /= 2
		}
		wide, deep := p.between(0.3, 0.9), p.between(0.3, 0.9)
		turns, period := p.between(1, 5), p.between(1.5, 5)
		middle := platform.Point{p.between(-0.2, 0.2), p.between(-0.4, 0.1)}
		wobble := p.wander(0.05, 1)
		length := turns*period + 2
		p.does(length, func(t float64) (s state) {
			sin, cos := math.Sincos(2 * math.Pi * t / period)
			for f := range s.load {
				if both || f == int(one) {
					s.load[f] = share * p.weightN() * swell(t, length, 0.4) * (1 + wobble(t))
					s.at[f] = platform.Point{middle[0] + wide*cos, middle[1] + deep*sin}
				}
			}
			return s
		})
	}},
	{"circles an ankle, the tip on the floor, up to half of the way to the edge", func(p *person) {
		f, load := p.anyFoot(), p.between(30, 180)
		wide, deep := p.between(0.1, 0.5), p.between(0.1, 0.5)
		turns, period := p.between(1, 6), p.between(0.8, 3)
		swing := p.wander(0.2, 1)
		length := turns * period
		middle := platform.Point{p.between(-0.3, 0.3), p.between(-0.4, 0.4)}
		p.does(length, func(t float64) (s state) {
			sin, cos := math.Sincos(2 * math.Pi * t / period)
			s.load[f] = load * swell(t, length, 0.3) * max(0.2, 1+swing(t))
			s.at[f] = platform.Point{middle[0] + wide*cos, middle[1] + deep*sin}
			return s
		})
	}},
	{"pushes the box over, front to back and side to side", func(p *person) {
		f, load, length := p.anyFoot(), p.between(40, 200), p.between(3, 12)
		period, wide, deep, tilt := p.between(1, 4), p.between(0, 0.9), p.between(0.3, 0.95), p.between(-0.4, 0.4)
		half := p.between(0.3, 0.7) * length
		p.does(length, func(t float64) (s state) {
			s.load[f] = load * swell(t, length, 0.3)
			x := math.Sin(2 * math.Pi * t / period)
			s.at[f] = platform.Point{tilt * x, deep * x}
			if t > half {
				s.at[f] = platform.Point{wide * x, tilt * x}
			}
			return s
		})
	}},
	{"rests the tip on an edge", func(p *person) {
		f, load, length := p.anyFoot(), p.between(20, 90), p.between(1, 10)
		from, to := p.between(-math.Pi, math.Pi), p.between(0.2, 2.5)
		tremble := p.wander(0.03, 2)
		p.does(length, func(t float64) (s state) {
			sin, cos := math.Sincos(from + to*t/length)
			s.load[f] = load * swell(t, length, 0.3)
			s.at[f] = platform.Point{0.9*cos + tremble(t), 0.9*sin + tremble(t+99)}
			return s
		})
	}},
	{"a hand squeezes strip and box", func(p *person) {
		f := p.anyFoot()
		for range 1 + p.rng.IntN(6) {
			load, length := p.between(10, 120), p.between(0.3, 4)
			at := platform.Point{p.between(-0.9, 0.9), p.between(-0.9, 0.9)}
			x, y, grip := p.wander(p.between(0.05, 0.5), 1), p.wander(p.between(0.05, 0.5), 1), p.wander(0.3, 2)
			p.does(length, func(t float64) (s state) {
				s.load[f] = load * swell(t, length, 0.15) * max(0, 1+grip(t))
				s.at[f] = platform.Point{at[0] + x(t), at[1] + y(t)}
				return s
			})
			p.rests(p.between(0.1, 1.5))
		}
	}},
	{"puts the shoe on, pushing it against the floor", func(p *person) {
		f := p.anyFoot()
		for range 1 + p.rng.IntN(4) {
			load, length := p.between(20, 180), p.between(0.5, 6)
			x, y, push := p.wander(p.between(0.1, 0.4), 1), p.wander(p.between(0.1, 0.5), 1), p.wander(0.4, 2)
			p.does(length, func(t float64) (s state) {
				s.load[f] = load * swell(t, length, 0.2) * max(0, 1+push(t))
				s.at[f] = platform.Point{x(t), -0.3 + y(t)}
				return s
			})
			p.rests(p.between(0.2, 2))
		}
	}},
	{"taps the box on the floor", func(p *person) {
		f := p.anyFoot()
		for range 2 + p.rng.IntN(10) {
			load, length := p.between(50, 500), p.between(0.03, 0.2)
			at := platform.Point{p.between(-0.6, 0.6), p.between(-0.9, 0.9)}
			p.does(length, func(t float64) (s state) {
				s.load[f] = load * swell(t, length, length/2)
				s.at[f] = at
				return s
			})
			p.rests(p.between(0.2, 0.8))
		}
	}},
	{"stands on flat feet, which only drifts the zero", func(p *person) {
		drift := p.wander(8, 0.3)
		p.does(p.between(2, 10), func(t float64) (s state) {
			s.load = [2]float64{drift(t), drift(t + 50)}
			return s
		})
	}},
}

// rises appends the relevés of the simulator's dancer.
func (p *person) rises(t *testing.T, seed uint64) { p.session(t, seed, nil) }

// session appends the relevés of the simulator's dancer, under the physics of a
// scenario and after its pad press of each foot in turn where there is one. It returns
// the marks of the presses, s.
func (p *person) session(t *testing.T, seed uint64, sc *sim.Scenario) (marks [2][2]float64) {
	d := sim.DefaultDancer()
	d.MassKG, d.Rises, d.LeftShare = p.massKG, 2+p.rng.IntN(2), p.between(0.4, 0.6)
	d.SwaySD, d.LoadSD = p.between(0.3, 1.2), p.between(0.01, 0.04)
	if p.rng.IntN(4) == 0 {
		d.Aborted = []int{1}
	}
	if p.onOne {
		d.LeftShare = float64(1 - p.anyFoot())
	}
	setup := sim.Setup{Seed: seed, RateHz: 60, Mounting: "1", Dancer: d, Faults: sim.DefaultFaults()}
	var strips [2]*trace.Strip
	for _, f := range device.Feet {
		if !p.strips[f] {
			continue
		}
		strip := &device.Strip{
			Name: f.String(), Foot: f, Rows: 5, Cols: 8, PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5},
			ADCBits: 12, SaturatesAt: 4095, FirstCell: "back-lateral", Scan: "rows",
			Mount: device.Mount{SeatSDMM: 1}, Calibration: device.Calibration{KPaPerCount: 0.75},
		}
		shoe := &device.Shoe{Code: "A", PlatformMM: [2]float64{2 * p.half[0], 2 * p.half[1]}, OutlineExponent: 2.5}
		at := platform.Point{p.between(-0.15, 0.15) * p.half[0], p.between(-0.6, 0.2) * p.half[1]}
		setup.Feet[f] = &sim.Foot{Strip: strip, Shoe: shoe, Stand: sim.Stand{CoPMM: at, ScatterSD: p.between(0.2, 1)}}
		strips[f] = &trace.Strip{Grid: field.New(strip, p.outline), Curve: strip.Curve(), SaturatesAt: strip.SaturatesAt}
	}
	if sc != nil {
		if setup.Press = sc.Press; setup.Press == (sim.PadPress{}) {
			setup.Press = sim.DefaultPadPress()
		}
		setup.Scatter = sim.Scatter{RulerSDMM: 0.8, RotationSDDeg: 1, RecordingSDMM: 0.3}
		for f := range setup.Feet {
			if setup.Feet[f] != nil {
				setup.Feet[f].Physics = sc.Physics
			}
		}
	}
	session, err := sim.NewSession(setup)
	require.NoError(t, err)
	for _, e := range session.PressEvents() {
		to := p.now + float64(e.TimeNS-setup.Start.UnixNano())/1e9
		marks[e.Foot] = [2]float64{to - e.LengthS, to}
	}
	logs, err := trace.Run(context.Background(), session, strips, nil)
	require.NoError(t, err)
	end := p.now
	for f, l := range logs {
		if l == nil {
			continue
		}
		for _, s := range l.Samples {
			s.T += p.now
			p.samples[f] = append(p.samples[f], s)
			end = max(end, s.T)
		}
	}
	p.now = end + 1.0/rateHz
	return marks
}

// presses looks for the pad presses of both feet.
func (p *person) presses() (found [2][][2]float64) {
	var feet [2]releve.Foot
	for f := range feet {
		feet[f] = releve.Foot{Samples: p.samples[f], Pulses: releve.Find(p.samples[f]), Outline: p.outline}
	}
	for _, f := range device.Feet {
		found[f] = releve.FindPresses(feet[f], feet[f.Other()])
	}
	return found
}

// No press is found in recordings without one, in which the dancer warms up and hands
// touch the shoe before the first relevé. At most one in 1,000 may have one.
func TestNoFalsePress(t *testing.T) {
	recordings := 40
	if os.Getenv("APLOMB_LONG") != "" {
		recordings = 6_000 // the thresholds were chosen on others
	}
	invented := 0
	counts := make([]int, len(activities))
	for i := range recordings {
		p := newPerson(uint64(400_000 + i))
		p.rests(p.between(0.5, 3))
		var done []string
		for range p.rng.IntN(4) {
			k := p.rng.IntN(len(activities))
			activities[k].do(p)
			p.rests(p.between(0.3, 4))
			counts[k]++
			done = append(done, activities[k].name)
		}
		p.rises(t, uint64(i))
		if found := p.presses(); found[0] != nil || found[1] != nil {
			invented++
			t.Logf("recording %d, %.0f kg: %v: %.1f", i, p.massKG, done, found)
		}
	}
	for k, n := range counts {
		t.Logf("%4d times: %s", n, activities[k].name)
	}
	t.Logf("%d of %d recordings without a pad press seem to hold one; 95 %% bound %.2f %%", invented, recordings, 100*upperBound(invented, recordings))
	assert.LessOrEqual(t, invented, max(0, recordings/1000))
}

// upperBound returns the one-sided 95 % bound of a probability from k of n (Clopper &
// Pearson, Biometrika 26 (1934) 404-413).
func upperBound(k, n int) float64 {
	lo, hi := 0.0, 1.0
	for range 60 {
		q := (lo + hi) / 2
		atMost, term := 0.0, math.Pow(1-q, float64(n))
		for i := 0; i <= k; i++ {
			atMost += term
			term *= float64(n-i) / float64(i+1) * q / (1 - q)
		}
		if atMost > 0.05 {
			lo = q
		} else {
			hi = q
		}
	}
	return hi
}

// fitterPresses appends a pad press as made by hand and returns its times.
func (p *person) fitterPresses(f device.Foot) (at [2]float64) {
	at[0] = p.now
	period, turns := p.between(2.5, 10), p.between(1, 2.5)
	start, sense := p.between(0, 2*math.Pi), float64(2*p.rng.IntN(2)-1)
	load, squeeze, reach := p.between(60, 140), p.wander(0.2, 1), p.wander(0.08, 0.7)
	least := p.between(0.65, 0.85)
	length := turns*period + 0.6
	p.does(length, func(t float64) (s state) {
		sin, cos := math.Sincos(start + sense*2*math.Pi*(t-0.3)/period)
		s.load[f] = min(190, load*max(0.4, 1+squeeze(t))) * swell(t, length, 0.3)
		r := min(0.95, max(0.6, least+reach(t)))
		edge := p.outline.Reach(platform.Point{cos, sin})
		s.at[f] = platform.Point{r * cos * edge / p.half[0], r * sin * edge / p.half[1]}
		return s
	})
	at[1] = p.now
	return at
}

// outcome counts the presses that there were, those of them that were found, and what
// else was.
type outcome struct{ presses, found, other int }

// add counts the presses found of a foot with one press at a time.
func (o *outcome) add(found [][2]float64, at [2]float64) {
	o.presses++
	for _, q := range found {
		if math.Abs(q[0]-at[0]) < 0.5 && math.Abs(q[1]-at[1]) < 0.5 {
			o.found++
		} else {
			o.other++
		}
	}
}

// A pad press at the beginning is found, with frames of the simulator in every physics
// and with the path of a hand. The load of a light dancer's relevé is as small as that of
// a press, so hers are found less often.
func TestPressIsFound(t *testing.T) {
	each := 1
	if os.Getenv("APLOMB_LONG") != "" {
		each = 16
	}
	scenarios := sim.Scenarios()
	names := []string{"sessions of the simulator", "paths of a hand", "paths of a hand, dancers of 25 to 40 kg"}
	outcomes := make([]outcome, len(names))
	for i := range each * len(scenarios) {
		for k := range outcomes {
			p := newPerson(uint64(10_000 + i))
			if p.massKG = p.between(40, 75); k == 2 {
				p.massKG = p.between(25, 40)
			}
			p.onOne = p.onOne && k > 0 // a session presses both feet
			p.rests(p.between(0, 2))
			if k == 0 {
				marks := p.session(t, uint64(30_000+i), &scenarios[i%len(scenarios)])
				found := p.presses()
				for _, f := range device.Feet {
					if p.strips[f] {
						outcomes[k].add(found[f], marks[f])
					}
				}
				continue
			}
			f := p.anyFoot()
			at := p.fitterPresses(f)
			p.rests(p.between(3, 10))
			p.rises(t, uint64(30_000+i))
			found := p.presses()
			outcomes[k].add(found[f], at)
			outcomes[k].other += len(found[f.Other()])
		}
	}
	for k, o := range outcomes {
		t.Logf("%s: %d of %d presses found (95 %% bound %.1f %%), %d other", names[k], o.found, o.presses,
			100*(1-upperBound(o.presses-o.found, o.presses)), o.other)
		assert.Zero(t, o.other)
	}
	for _, o := range outcomes[:2] {
		assert.GreaterOrEqual(t, float64(o.found), 0.9*float64(o.presses)-1)
	}
}

// round is a plain press: one turn of the centre of pressure at 80 % of the way to the
// outline, the load swinging about a mean.
type round struct {
	meanN, swing float64 // swing is a share of the mean
	seconds      float64
	turns, reach float64
	liftS        float64 // the platform is lifted off the pad halfway for this long
	shift        platform.Point
	otherN       float64 // load on the other platform
	afterN       float64 // load of the relevé after it
	before       float64 // load of a body before it, N; 0 is none
}

func plainRound() round {
	return round{meanN: 100, swing: 0.4, seconds: 6, turns: 1, reach: 0.8, afterN: 300}
}

// found returns the presses found on the left foot, with the time of the press.
func (q round) found(start, sense float64) (presses [][2]float64, at [2]float64) {
	p := newPerson(1)
	p.strips, p.seat = [2]bool{true, true}, [2]platform.Point{q.shift, q.shift}
	p.rests(1)
	if q.before > 0 {
		p.does(2, func(t float64) (s state) {
			s.load[device.Left] = q.before * swell(t, 2, 0.3)
			return s
		})
		p.rests(3)
	}
	at[0] = p.now
	length := q.seconds + q.liftS
	p.does(length, func(t float64) (s state) {
		u := t
		if t > q.seconds/2 {
			if t < q.seconds/2+q.liftS {
				return s
			}
			u = t - q.liftS
		}
		sin, cos := math.Sincos(start + sense*2*math.Pi*q.turns*u/q.seconds)
		s.load[device.Left] = q.meanN * (1 + q.swing*math.Sin(2*math.Pi*2.3*u/q.seconds)) * swell(t, length, 0.05)
		s.load[device.Right] = q.otherN
		r := q.reach * p.outline.Reach(platform.Point{cos, sin})
		s.at[device.Left] = platform.Point{r * cos / p.half[0], r * sin / p.half[1]}
		return s
	})
	at[1] = p.now
	p.rests(5)
	p.does(3, func(t float64) (s state) {
		s.load = [2]float64{q.afterN * swell(t, 3, 0.3), q.afterN * swell(t, 3, 0.3)}
		return s
	})
	p.rests(1)
	return p.presses()[device.Left], at
}

// A round is found from any starting point in either direction, with a strip millimetres
// off.
func TestRoundIsAPress(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := plainRound()
		q.shift = platform.Point{rapid.Float64Range(-4, 4).Draw(t, "medial"), rapid.Float64Range(-4, 4).Draw(t, "over")}
		q.reach = rapid.Float64Range(0.6, 0.95).Draw(t, "reach")
		q.seconds = rapid.Float64Range(3, 15).Draw(t, "seconds")
		start, sense := rapid.Float64Range(-3, 3).Draw(t, "start"), rapid.SampledFrom([]float64{-1, 1}).Draw(t, "sense")
		presses, at := q.found(start, sense)
		require.Len(t, presses, 1)
		assert.InDelta(t, at[0], presses[0][0], 0.1)
		assert.InDelta(t, at[1], presses[0][1], 0.1)
	})
}

// The test varies one property of a load at a time, and checks whether it is still a pad
// press.
func TestWhatIsAPress(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(q *round)
		is     bool
	}{
		{"as it is", func(*round) {}, true},
		{"lifted for half a second", func(q *round) { q.liftS = 0.5 }, true},
		{"lifted for two seconds, half a round each", func(q *round) { q.liftS = 2 }, false},
		{"half a round", func(q *round) { q.turns = 0.5 }, false},
		{"not far from the middle", func(q *round) { q.reach = 0.4 }, false},
		{"too fast for a hand", func(q *round) { q.seconds = 1.5 }, false},
		{"more than a hand gives", func(q *round) { q.meanN = 250 }, false},
		{"steady as a body", func(q *round) { q.swing = 0.02 }, false},
		{"with the load of the relevé after it", func(q *round) { q.afterN = 130 }, false},
		{"with both platforms loaded", func(q *round) { q.otherN = 60 }, false},
		{"after a load of body weight", func(q *round) { q.before = 300 }, false},
	} {
		q := plainRound()
		c.change(&q)
		presses, _ := q.found(0.3, 1)
		assert.Equal(t, c.is, len(presses) == 1, c.name)
	}
}

// A recording of a press alone has a press, and one without a load has none.
func TestPressWithoutReleves(t *testing.T) {
	p := newPerson(2)
	p.strips = [2]bool{true, true}
	p.rests(2)
	assert.Equal(t, [2][][2]float64{}, p.presses())
	p.fitterPresses(device.Right)
	p.rests(1)
	assert.Len(t, p.presses()[device.Right], 1)
	assert.Empty(t, p.presses()[device.Left])
	assert.Empty(t, releve.FindPresses(releve.Foot{}, releve.Foot{}))
}

// A foot that goes round near the edge with a small, changing load, while the other
// stands flat, cannot be distinguished from a hand. If this changes, the documentation of
// FindPresses and VALIDATION.md must change too.
func TestFootThatLooksLikeAHand(t *testing.T) {
	taken := 0
	const feet = 20
	for i := range feet {
		p := newPerson(uint64(40_000 + i))
		p.massKG = p.between(40, 75)
		f, load, swing := p.anyFoot(), p.between(50, 130), p.wander(0.25, 1)
		period, reach := p.between(1.5, 4), p.between(0.6, 0.9)
		p.rests(1)
		p.does(2*period, func(t float64) (s state) {
			sin, cos := math.Sincos(2 * math.Pi * t / period)
			s.load[f] = min(190, load*max(0.3, 1+swing(t))) * swell(t, 2*period, 0.3)
			s.at[f] = platform.Point{reach * cos, reach * sin}
			return s
		})
		p.rests(3)
		p.rises(t, uint64(i))
		if len(p.presses()[f]) > 0 {
			taken++
		}
	}
	t.Logf("%d of %d feet that went round near the edge were taken for a hand", taken, feet)
	assert.Greater(t, taken, feet/2)
}

// For any samples presses lie within them, in order and without overlap.
func TestPressesOnAnything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var feet [2]releve.Foot
		for f := range feet {
			n := rapid.IntRange(0, 300).Draw(t, "samples")
			samples := make([]measure.Sample, n)
			place := rapid.OneOf(rapid.Float32Range(-20, 20), rapid.SampledFrom([]float32{float32(math.NaN()), 0, 1e30}))
			for i := range samples {
				samples[i] = measure.Sample{T: float64(i) / 20, LoadN: rapid.OneOf(rapid.Float32Range(-50, 400), rapid.Just(float32(100))).Draw(t, "load"), MedialMM: place.Draw(t, "medial"), OverMM: place.Draw(t, "over")}
			}
			feet[f] = releve.Foot{Samples: samples, Pulses: releve.Find(samples), Outline: platform.Superellipse(36, 22, 2.5)}
		}
		last := 0.0
		for _, press := range releve.FindPresses(feet[0], feet[1]) {
			assert.LessOrEqual(t, last, press[0])
			assert.Less(t, press[0], press[1])
			assert.LessOrEqual(t, press[1], 15.0)
			last = press[1]
		}
	})
}
