package hold

import (
	"math"

	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/analyze/trace"
)

// Press returns a pad press from one time to another, s, with its maps above the
// baseline and without crosstalk. A tenth of a second below the load floor has no
// map.
func (in *Instrument) Press(l *trace.Log, from, to float64) measure.Press {
	p := measure.Press{StartS: from, EndS: to}
	noise := 0.0
	zero := l.ZeroBefore(from)
	for _, m := range l.Maps(from, to, zero) {
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
	return p
}
