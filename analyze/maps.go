package analyze

import (
	"errors"
	"io"
	"math"

	"aplomb/analyze/releve"
	"aplomb/analyze/trace"
	"aplomb/device"
	"aplomb/device/recording"
)

// holdMap is what the second pass gathers of one hold.
type holdMap struct {
	frames    int
	mean      []float64 // counts above zero; kPa once divided
	peakFrame float64   // largest single reading, counts above zero
	saturated int       // cells that reached the end of their range

	from, to float64 // s
	zero     []float64
	full     []bool
}

// secondPass reads the recording again and averages the map of every hold.
// The result is indexed by foot and pulse, nil for an aborted pulse.
func secondPass(path string, logs [2]*trace.Log, pulses [2][]releve.Pulse, startNS float64) (holds [2][]*holdMap, err error) {
	var wanted [][2]int64
	for f, l := range logs {
		holds[f] = make([]*holdMap, len(pulses[f]))
		for i, p := range pulses[f] {
			if p.Aborted {
				continue
			}
			zero := l.ZeroAt(p.OnsetS)
			holds[f][i] = &holdMap{
				from: p.HoldStartS, to: p.HoldEndS, zero: zero,
				mean: make([]float64, len(zero)), full: make([]bool, len(zero)),
			}
			// A frame arrives after it was measured: by milliseconds, seconds at the very worst.
			wanted = append(wanted, [2]int64{
				int64(startNS + 1e9*(p.HoldStartS-1)), int64(startNS + 1e9*(p.HoldEndS+10)),
			})
		}
	}
	if len(wanted) == 0 {
		return holds, nil
	}
	src, err := recording.Open(path)
	if err != nil {
		return holds, err
	}
	defer src.Close()
	src.Only(wanted)
	var next [2]int // the first hold of each foot that may still gather
	var saturates [2]uint16
	for f, side := range src.Meta().Sides {
		if side != nil {
			saturates[f] = uint16(side.Strip.SaturatesAt)
		}
	}
	var frame device.Frame
	for {
		if err := src.Next(&frame); err != nil {
			if errors.Is(err, io.EOF) {
				return holds, nil
			}
			return holds, err
		}
		f := frame.Foot
		t := logs[f].Clock.Seconds(frame.TimeUS)
		for next[f] < len(holds[f]) && (holds[f][next[f]] == nil || holds[f][next[f]].to < t) {
			next[f]++
		}
		if next[f] < len(holds[f]) && holds[f][next[f]].from <= t {
			holds[f][next[f]].add(frame.Counts, saturates[f])
		}
	}
}

func (h *holdMap) add(counts []uint16, saturates uint16) {
	h.frames++
	for k, c := range counts {
		d := float64(c) - h.zero[k]
		h.mean[k] += d
		h.peakFrame = max(h.peakFrame, d)
		if c >= saturates && !h.full[k] {
			h.full[k] = true
			h.saturated++
		}
	}
}

// kPa returns the mean pressure of each cell over the hold, in scan order.
func (h *holdMap) kPa(perCount float64) []float64 {
	p := make([]float64, len(h.mean))
	for k, sum := range h.mean {
		p[k] = perCount * sum / math.Max(1, float64(h.frames))
	}
	return p
}
