package hold

import (
	"math"

	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/analyze/trace"
)

// beforePressS is the time before a pad press at which its zero is taken, s, early enough
// to be without the load of the press.
const beforePressS = 0.5

// PressMaps sets the maps of a pad press, one for each tenth of a second above the load
// floor, with baseline and crosstalk removed.
func (in *Instrument) PressMaps(p *measure.Press, l *trace.Log) {
	noise := 0.0
	zero := l.ZeroBefore(p.StartS - beforePressS)
	for _, m := range l.Maps(p.StartS, p.EndS, zero) {
		h := &Hold{pressure: m.KPa}
		removeCrosstalk(in, h)
		if load, _ := in.perFrame(h.pressure); load < field.LoadFloorN {
			continue
		}
		p.Maps = append(p.Maps, h.pressure)
		for k := range zero {
			sd := in.perCount(k, m.KPa[k]) * in.noise(l, k)
			noise += sd * sd / float64(m.Frames*len(zero))
		}
	}
	if len(p.Maps) > 0 {
		p.MapNoiseKPa = math.Sqrt(noise / float64(len(p.Maps)))
	}
}
