package clock_test

import (
	"math"
	"math/rand/v2"
)

const epoch = 1_700_000_000_000_000_000 // ns

// strip simulates a strip that sends frames, and their delays and losses. It uses no code of
// the package: it knows the true time.
type strip struct {
	ppm    float64 // rate error of its clock at the beginning, positive where it is slow
	drift  float64 // change of the rate error, ppm a minute; constant, or of random sign where walk is set
	walk   bool
	hz     float64    // frames a second by its own clock
	lost   float64    // share of frames that never arrive
	noise  float64    // s: mean of an exponential delay of each frame
	wire   float64    // s: constant delay of every frame
	batch  float64    // s: the host gets frames at multiples of this; 0 means at once
	timer  bool       // the host gets a batch that long after its first frame instead
	stalls float64    // s: mean time between stalls of 200 ms
	away   [2]float64 // s: start and end of one more stall
	gaps   [][2]float64
	resets []float64 // s: times of restarts, which take 0.3 s
}

// frame is a frame that has arrived.
type frame struct {
	us      uint64
	arrival int64
	restart bool    // the strip has restarted before it
	at      float64 // true time of measurement, s after the epoch
}

// run returns the frames of a number of seconds.
func (s strip) run(seconds float64, seed uint64) []frame {
	r := rand.New(rand.NewPCG(seed, 1))
	rate, sign := 1+1e-6*s.ppm, 1.0
	at, tick := 0.1*r.Float64(), 0.0
	phase := s.batch * r.Float64()
	began := float64(r.IntN(1e9)) // µs
	stall := r.ExpFloat64() * s.stalls
	var frames []frame
	var last, closes float64 // arrival of the last frame; when the present batch is due
	gaps, resets, restart := s.gaps, s.resets, false
	for ; at < seconds; tick++ {
		us := math.Round(tick * 1e6 / s.hz)
		measured := at
		step := rate / s.hz
		at += step
		if s.walk && r.Float64() < step/30 {
			sign = -sign
		}
		rate += sign * s.drift / 60 * 1e-6 * step
		if len(resets) > 0 && measured >= resets[0] {
			at, tick, resets, restart = measured+0.3, -1, resets[1:], true
			continue
		}
		for len(gaps) > 0 && measured >= gaps[0][1] {
			gaps = gaps[1:]
		}
		if r.Float64() < s.lost || len(gaps) > 0 && measured >= gaps[0][0] {
			continue
		}
		came := measured + s.wire + s.noise*r.ExpFloat64()
		switch {
		case s.batch == 0:
		case !s.timer:
			came = math.Ceil((came-phase)/s.batch)*s.batch + phase
		case came > closes:
			closes = came + s.batch
			came = closes
		default:
			came = closes
		}
		for s.stalls > 0 && came > stall+0.2 {
			stall += 0.2 + s.stalls*r.ExpFloat64()
		}
		if s.stalls > 0 && came > stall {
			came = stall + 0.2
		}
		if came > s.away[0] {
			came = max(came, s.away[1])
		}
		came = max(came, last)
		f := frame{uint64(began + us), epoch + int64(1e9*came), restart, measured}
		if restart {
			// The strip counts from 0, and the link advances by the host's clock.
			before := frames[len(frames)-1]
			f.us = before.us + uint64(f.arrival-before.arrival)/1000
			began, restart = float64(f.us)-us, false
		}
		frames = append(frames, f)
		last = came
	}
	return frames
}
