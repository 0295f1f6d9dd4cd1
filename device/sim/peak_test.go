package sim

import "aplomb/device/platform"

// Peak returns the largest pressure under the platform, kPa.
func (s *Sole) Peak(p Pose) float64 {
	km, ko := s.dome.curvature()
	if km > 0 {
		if top := (platform.Point{p.TiltMedial / km, p.TiltOver / ko}); s.outline.Contains(top) {
			return s.Pressure(p, top)
		}
	}
	peak := 0.0
	for i, a := range s.outline {
		b := s.outline[(i+1)%len(s.outline)]
		peak = max(peak, s.Pressure(p, a))
		// Along an edge the depth is a parabola; its top may lie between the ends.
		e := platform.Point{b[0] - a[0], b[1] - a[1]}
		bend := km*e[0]*e[0] + ko*e[1]*e[1]
		rise := (p.TiltMedial-km*a[0])*e[0] + (p.TiltOver-ko*a[1])*e[1]
		if t := rise / bend; bend > 0 && t > 0 && t < 1 {
			peak = max(peak, s.Pressure(p, platform.Point{a[0] + t*e[0], a[1] + t*e[1]}))
		}
	}
	return peak
}
