package analyze

import (
	"fmt"
	"math"

	"aplomb/analyze/cells"
	"aplomb/analyze/field"
	"aplomb/device"
)

// watching is a Source that watches the cells of the frames that pass through it.
type watching struct {
	device.Source
	cells [2]*cells.Watch // nil for a foot without a strip
	next  [2]uint64       // µs: the frames before are passed over
}

// watchUS is the least distance of the frames that are watched, µs: at whatever
// rate they come, some thirty a second say all of a cell that does not answer,
// and cost little.
const watchUS = 1_000_000 / 30

func watch(src device.Source, feet [2]*foot) *watching {
	w := &watching{Source: src}
	for i, f := range feet {
		if f != nil {
			w.cells[i] = cells.New(f.strip, f.grid.Outline)
		}
	}
	return w
}

func (w *watching) Next(f *device.Frame) error {
	if err := w.Source.Next(f); err != nil {
		return err
	}
	if i := int(f.Foot); i < len(w.cells) && w.cells[i] != nil && f.TimeUS-w.next[i] < 1<<63 {
		w.cells[i].Add(f)
		w.next[i] = f.TimeUS + watchUS
	} else if i < len(w.cells) && f.Restarted {
		w.next[i] = 0 // its clock stands elsewhere
	}
	return nil
}

// lost is a cell that is not to be believed.
type lost struct {
	k    int // its place in the scan
	cell cells.Cell
	kind cells.Kind
}

// lose does without the cells that are dead or stuck, and says whether there are
// any that were believed before.
func (g *foot) lose(w *cells.Watch) bool {
	var gone []int
	w.End()
	for _, found := range w.Findings() {
		if found.Kind != cells.Dead && found.Kind != cells.Stuck {
			continue
		}
		for k := range g.strip.Cells() {
			if w.At(k) == found.Cell && g.without(k) == nil {
				g.lost = append(g.lost, lost{k, found.Cell, found.Kind})
				gone = append(gone, k)
			}
		}
	}
	if len(gone) == 0 {
		return false
	}
	g.grid = g.grid.Without(gone)
	g.weights = g.grid.Weights()
	return true
}

// without returns what is wrong with the k-th cell, nil where it is believed.
func (g *foot) without(k int) *lost {
	for i := range g.lost {
		if g.lost[i].k == k {
			return &g.lost[i]
		}
	}
	return nil
}

// named lists lost cells for people.
func (g *foot) named(list []int) string {
	said := ""
	for _, k := range list {
		if said != "" {
			said += "; "
		}
		one := g.without(k)
		said += fmt.Sprintf("%s (%s)", one.cell, one.kind)
	}
	return said
}

// fillSpread is the standard uncertainty of each measure for want of the lost
// cells, by the measure's name: see field.Grid.WithoutOneMore. Nothing where none
// is lost.
func (g *foot) fillSpread(at field.Map, m *Measures, p, noise []float64) map[string]float64 {
	spread := map[string]float64{}
	for _, maps := range g.grid.WithoutOneMore(p, noise) {
		for _, name := range placed {
			sum := 0.0
			for _, full := range maps {
				d := difference(name, g.placed(full), m)
				sum += d * d / float64(len(maps))
			}
			spread[name] = math.Hypot(spread[name], math.Sqrt(sum))
		}
	}
	return spread
}

// lostDoubts says what the lost cells mean for a hold whose map is full.
func (g *foot) lostDoubts(full field.Map) (doubts []string) {
	if len(full.Unfilled) > 0 {
		doubts = append(doubts, fmt.Sprintf("over, medial, contact share, load and the verdict are not to be trusted: "+
			"nothing says what cells without a reading bear: %s; mend the strip", g.named(full.Unfilled)))
	}
	if len(full.Filled) > 0 {
		doubts = append(doubts, fmt.Sprintf("cells without a reading, filled from the others, which adds to the uncertainties: %s", g.named(full.Filled)))
	}
	return doubts
}
