package releve

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// score counts how the pulses of Find agree with the true ones.
type score struct {
	pulses, cut, missed, invented int
	onset, start, end             sumOfSquares
	judged, misjudged             int // aborted or not, for true holds that are not of 0.4 to 0.6 s
}

type sumOfSquares struct {
	n     int
	sum   float64
	worst float64
}

func (s *sumOfSquares) add(x float64) {
	s.n++
	s.sum += x * x
	s.worst = max(s.worst, math.Abs(x))
}

func (s sumOfSquares) rms() float64 {
	if s.n == 0 {
		return 0
	}
	return math.Sqrt(s.sum / float64(s.n))
}

func (s *sumOfSquares) join(o sumOfSquares) {
	s.n, s.sum, s.worst = s.n+o.n, s.sum+o.sum, max(s.worst, o.worst)
}

func (s *score) join(o score) {
	s.pulses, s.cut, s.missed, s.invented = s.pulses+o.pulses, s.cut+o.cut, s.missed+o.missed, s.invented+o.invented
	s.judged, s.misjudged = s.judged+o.judged, s.misjudged+o.misjudged
	s.onset.join(o.onset)
	s.start.join(o.start)
	s.end.join(o.end)
}

// compare compares the pulses found with the true ones. Pulses with missing frames are
// scored for presence only.
func compare(found []Pulse, truths []truth) (by [kinds]score) {
	used := make([]bool, len(found))
	overlaps := func(p Pulse, q truth) bool { return p.OnsetS < q.end && q.onset < p.EndS }
	j := 0
	for _, q := range truths {
		s := &by[q.kind]
		for j < len(found) && found[j].EndS <= q.onset {
			j++
		}
		var mine []int
		for k := j; k < len(found) && overlaps(found[k], q); k++ {
			mine = append(mine, k)
		}
		if q.cut {
			for _, k := range mine {
				used[k] = true
			}
			if q.seen < 0.1 {
				continue // hardly a frame of it is present
			}
			s.pulses++
			s.cut++
			if len(mine) == 0 {
				s.missed++
			}
			continue
		}
		s.pulses++
		if len(mine) == 0 || used[mine[0]] {
			s.missed++
			continue
		}
		p := found[mine[0]]
		used[mine[0]] = true // further ones are false
		s.onset.add(p.OnsetS - q.onset)
		if h := q.held(); h < 0.4 || h > 0.6 {
			s.judged++
			if p.Aborted != (h < 0.5) {
				s.misjudged++
			}
		}
		if !p.Aborted && q.held() > 0.6 {
			s.start.add(p.HoldStartS - q.holdStart)
			s.end.add(p.HoldEndS - q.holdEnd)
		}
	}
	for _, is := range used {
		if !is {
			by[rise].invented++
		}
	}
	return by
}

// heading and row format scores as a table.
func heading(table *strings.Builder) {
	fmt.Fprintf(table, "\n%-26s %6s %5s %7s %9s %7s %6s %8s %8s %6s %12s\n%-26s %6s %5s %7s %9s %7s %6s %8s %8s %6s %12s\n",
		"", "pulses", "cut", "missed", "invented", "onset", "worst", "start of", "end of", "worst", "misjudged",
		"", "", "", "", "", "ms RMS", "ms", "hold", "hold", "ms", "aborted")
}

func (s score) row(table *strings.Builder, name string) {
	fmt.Fprintf(table, "%-26s %6d %5d %7d %9d %7.1f %6.0f %8.1f %8.1f %6.0f %10.2f %%\n", name, s.pulses, s.cut, s.missed, s.invented,
		1000*s.onset.rms(), 1000*s.onset.worst, 1000*s.start.rms(), 1000*s.end.rms(), 1000*max(s.start.worst, s.end.worst),
		100*float64(s.misjudged)/max(1, float64(s.judged)))
}

// bounds checks limits of our own choice: no pulse missed, none false, onset within 20 ms
// RMS, the ends of holds within 50 ms RMS, 99 of 100 aborted rises recognised.
func (s score) bounds(t *testing.T) {
	assert.Zero(t, s.missed, "missed")
	assert.Zero(t, s.invented, "invented")
	assert.LessOrEqual(t, s.onset.rms(), 0.020, "onset")
	assert.LessOrEqual(t, s.start.rms(), 0.050, "start of hold")
	assert.LessOrEqual(t, s.end.rms(), 0.050, "end of hold")
	assert.LessOrEqual(t, float64(s.misjudged), 0.01*float64(s.judged), "aborted or not")
	assert.Greater(t, s.judged, s.pulses/2)
}

// TestDetectionTable runs Find on simulated pulses and prints how they agree (go test
// -v). With APLOMB_LONG=1 it takes 10,000 of them.
func TestDetectionTable(t *testing.T) {
	total := 270
	if os.Getenv("APLOMB_LONG") != "" {
		total = 10_000
	}
	light, heavy := [2]float64{240, 420}, [2]float64{600, 950}
	conditions := []struct {
		name string
		condition
	}{
		{"50 Hz, light", condition{rate: 50, weight: light, noiseN: 0.5, driftN: 5}},
		{"50 Hz, heavy, noisy", condition{rate: 50, weight: heavy, noiseN: 2, driftN: 5}},
		{"100 Hz, light, noisy", condition{rate: 100, weight: light, noiseN: 2, driftN: 5}},
		{"122 Hz, heavy", condition{rate: 122, weight: heavy, noiseN: 0.5, driftN: 5}},
		{"200 Hz, light", condition{rate: 200, weight: light, noiseN: 1, driftN: 5}},
		{"200 Hz, frames lost", condition{rate: 200, weight: heavy, noiseN: 1, driftN: 5, gaps: 0.05, longestMS: 60}},
		{"200 Hz, line fails", condition{rate: 200, weight: light, noiseN: 1, driftN: 5, gaps: 0.03, longestMS: 1500}},
		{"500 Hz, heavy, noisy", condition{rate: 500, weight: heavy, noiseN: 3, driftN: 5}},
		{"1000 Hz, light, noisy", condition{rate: 1000, weight: light, noiseN: 3, driftN: 5}},
	}

	var table strings.Builder
	heading(&table)
	var all score
	var byKind [kinds]score
	for i, c := range conditions {
		rng := rand.New(rand.NewPCG(2024, uint64(i)))
		var here score
		for here.pulses < total/len(conditions) {
			samples, truths := c.foot(rng, 40)
			for k, s := range compare(Find(samples), truths) {
				here.join(s)
				byKind[k].join(s)
			}
		}
		here.row(&table, c.name)
		all.join(here)
	}
	table.WriteByte('\n')
	for k, s := range byKind {
		s.row(&table, kind(k).String())
	}
	all.row(&table, "all")
	t.Log(table.String())

	all.bounds(t)
}
