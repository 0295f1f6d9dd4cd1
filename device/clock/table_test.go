package clock_test

import (
	"fmt"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/device/clock"
)

// errors are the errors of a foot's clock, s, one for every half second of the host's time;
// NaN where no frame is near.
type errors []float64

const everyS = 0.5

func (e *errors) note(f frame, host float64) {
	i := int(f.at / everyS)
	for len(*e) <= i {
		*e = append(*e, math.NaN())
	}
	(*e)[i] = (host-epoch)/1e9 - f.at
}

// follow adds the frames of a foot to a Fit and a Live. It ignores Live in its first 10 s and
// in the 10 s after a restart or a gap of more than a second.
func follow(frames []frame) (offline, live errors) {
	var fit clock.Fit
	var now clock.Live
	settled := frames[0].at + 10
	for i, f := range frames {
		if f.restart {
			fit.Restart()
			now.Restart()
		}
		if f.restart || i > 0 && f.at-frames[i-1].at > 1 {
			settled = f.at + 10
		}
		fit.Add(f.us, f.arrival)
		now.Add(f.us, f.arrival)
		if f.at >= settled {
			live.note(f, now.Host(f.us))
		}
	}
	curve := fit.Mapping()
	for _, f := range frames {
		offline.note(f, curve.Host(f.us))
	}
	return offline, live
}

// apart returns the differences between left and right, s.
type apart struct {
	worst, squares float64
	n              int
}

func (a *apart) add(left, right errors) {
	for i := range min(len(left), len(right)) {
		if d := left[i] - right[i]; !math.IsNaN(d) {
			a.worst = max(a.worst, math.Abs(d))
			a.squares += d * d
			a.n++
		}
	}
}

func (a *apart) String() string {
	return fmt.Sprintf("%6.2f %6.2f", 1e3*a.worst, 1e3*math.Sqrt(a.squares/float64(a.n)))
}

// The clocks of left and right agree over an hour on lines with various faults, offline
// throughout and live after 10 s. The expected values come from the simulated strips,
// which know the true time. The test runs three minutes with one seed, and an hour with
// eight seeds under APLOMB_LONG=1.
func TestClockTable(t *testing.T) {
	seconds, seeds := 180.0, uint64(1)
	if os.Getenv("APLOMB_LONG") != "" {
		seconds, seeds = 3600, 8
	}
	usual := strip{hz: 200, noise: 1e-4, wire: 1e-3, batch: 0.016, stalls: 15}
	with := func(changes ...func(*strip)) strip {
		s := usual
		for _, change := range changes {
			change(&s)
		}
		return s
	}
	crystal := func(ppm float64) func(*strip) {
		return func(s *strip) { s.ppm, s.drift, s.walk = ppm, 2, true }
	}
	ramp := func(ppm, drift float64) func(*strip) { return func(s *strip) { s.ppm, s.drift = ppm, drift } }
	at := func(hz float64) func(*strip) { return func(s *strip) { s.hz = hz } }
	out := func(s *strip) { s.gaps = [][2]float64{{40, 160}, {170, 170.7}} }
	lossy := func(s *strip) { s.lost = 0.2 }
	reset := func(s *strip) { s.resets = []float64{5, 60, 63, 120} }
	timer := func(s *strip) { s.timer = true }
	inStep := func(hz float64) func(*strip) { return func(s *strip) { s.hz, s.ppm = hz, s.ppm/5 } }

	const bound = 5e-3 // s
	rows := []struct {
		name        string
		left, right strip
		within      float64 // s; 0 where there is no bound
	}{
		{"crystals, 100 ppm either way", with(crystal(100)), with(crystal(-100)), bound},
		{"crystals, nearly alike", with(crystal(2)), with(crystal(-3)), bound},
		{"warming against cooling", with(ramp(-60, 2)), with(ramp(60, -2)), bound},
		{"resonators, 5000 ppm either way", with(crystal(5000)), with(crystal(-5000)), bound},
		{"resonators, drift 20 ppm a minute", with(ramp(-1500, 20)), with(ramp(700, -20)), bound},
		{"crystal against resonator", with(crystal(40)), with(crystal(500)), bound},
		{"50 Hz", with(crystal(100), at(50)), with(crystal(-30), at(50)), bound},
		{"50 Hz, resonators", with(crystal(600), at(50)), with(crystal(-300), at(50)), bound},
		{"100 Hz", with(crystal(70), at(100)), with(crystal(-80), at(100)), bound},
		{"250 Hz", with(crystal(20), at(250)), with(crystal(-100), at(250)), bound},
		{"1000 Hz", with(crystal(100), at(1000)), with(crystal(-100), at(1000)), bound},
		{"50 against 1000 Hz", with(crystal(100), at(50)), with(crystal(-100), at(1000)), bound},
		{"cable out for two minutes", with(crystal(90), out), with(crystal(-90)), bound},
		{"a fifth of the frames lost", with(crystal(90), lossy), with(crystal(-90), lossy), bound},
		{"board starts again", with(crystal(90), reset), with(crystal(-90)), bound},
		{"board starts again, resonator", with(crystal(3000), reset), with(crystal(-90)), bound},
		{"batches 16 ms after a first frame", with(crystal(90), timer), with(crystal(-90), timer), bound},
		{"125 Hz, in step with the batches", with(crystal(100), inStep(125)), with(crystal(-100), inStep(125)), 0},
		{"62.5 Hz, in step with the batches", with(crystal(100), inStep(62.5)), with(crystal(-100), inStep(62.5)), 0},
	}
	t.Logf("left against right, ms, %d × %.0f s", seeds, seconds)
	t.Logf("%-36s %-15s %s", "", "offline", "live, from 10 s")
	t.Logf("%-36s %6s %6s  %6s %6s", "", "worst", "RMS", "worst", "RMS")
	for i, row := range rows {
		var offline, live apart
		for seed := range seeds {
			leftOff, leftLive := follow(row.left.run(seconds, 1000*uint64(i)+2*seed))
			rightOff, rightLive := follow(row.right.run(seconds, 1000*uint64(i)+2*seed+1))
			offline.add(leftOff, rightOff)
			live.add(leftLive, rightLive)
		}
		t.Logf("%-36s %s  %s", row.name, &offline, &live)
		if row.within > 0 {
			assert.Less(t, offline.worst, row.within, "%s, offline", row.name)
			assert.Less(t, live.worst, row.within, "%s, live", row.name)
		}
	}
}
