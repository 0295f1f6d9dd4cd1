package device

import (
	"math"

	"aplomb/device/platform"
)

// MaxOutline bounds the number of points of an outline. It allows a point every few
// hundredths of a mm.
const MaxOutline = 5000

// The words that describe a shoe, each list in order.
var (
	Boxes        = [...]string{"tapered", "moderately tapered", "square"}
	Shanks       = [...]string{"soft", "medium", "hard"}
	ShankLengths = [...]string{"full", "three-quarter"}
)

// Shoe describes one shoe as it is worn, measured with a ruler.
type Shoe struct {
	Code            string       `toml:"shoe"`
	PlatformMM      [2]float64   `toml:"platform_mm,omitempty"` // width, depth
	OutlineExponent float64      `toml:"outline_exponent,omitzero"`
	OutlineMM       [][2]float64 `toml:"outline_mm,omitempty"` // points [medial, over], instead of PlatformMM and OutlineExponent
	Box             string       `toml:"box,omitempty"`
	CrownMM         float64      `toml:"crown_mm,omitzero"`
	Shank           string       `toml:"shank,omitempty"`
	ShankLength     string       `toml:"shank_length,omitempty"`
	VampMM          float64      `toml:"vamp_mm,omitzero"`  // from the front of the platform to the throat
	WingsMM         float64      `toml:"wings_mm,omitzero"` // from the platform to the top of the wings
	Padding         string       `toml:"padding,omitempty"`
	HoursWorn       float64      `toml:"hours_worn"`
}

// Outline returns the platform's outline, counter-clockwise, with its centroid at the origin, mm.
func (s *Shoe) Outline() platform.Polygon {
	if len(s.OutlineMM) > 0 {
		p := make(platform.Polygon, len(s.OutlineMM))
		for i, q := range s.OutlineMM {
			p[i] = q
		}
		return p.Centred()
	}
	return platform.Superellipse(s.PlatformMM[0], s.PlatformMM[1], s.OutlineExponent)
}

// Size returns the width and the depth of the platform, mm.
func (s *Shoe) Size() [2]float64 {
	if len(s.OutlineMM) == 0 {
		return s.PlatformMM
	}
	lo, hi := s.Outline().Bounds()
	return [2]float64{hi[0] - lo[0], hi[1] - lo[1]}
}

// Check reports the first impossible thing about the shoe as a FieldError.
func (s *Shoe) Check() error {
	switch {
	case s.Code == "":
		return invalid("shoe", "give the shoe a code")
	case !isCode(s.Code):
		return invalid("shoe", "a code has at most %d printable characters", maxCode)
	case len(s.OutlineMM) > 0 && (s.PlatformMM != [2]float64{} || s.OutlineExponent != 0):
		return invalid("outline_mm", "give either outline_mm or platform_mm with outline_exponent, not both")
	case len(s.OutlineMM) == 0 && !validLengths(s.PlatformMM):
		return invalid("platform_mm", "platform %v mm: width and depth from %v to %v", s.PlatformMM, minMM, maxMM)
	case len(s.OutlineMM) > MaxOutline:
		return invalid("outline_mm", "%d points: at most %d", len(s.OutlineMM), MaxOutline)
	case len(s.OutlineMM) == 0 && !(s.OutlineExponent >= 1 && s.OutlineExponent <= 200):
		return invalid("outline_exponent", "%v: 1 to 200 (2 is an oval, 20 nearly a rectangle)", s.OutlineExponent)
	case s.Box != "" && !oneOf(s.Box, Boxes[:]...):
		return invalid("box", "%q: tapered, moderately tapered or square", s.Box)
	case !finite(s.CrownMM) || s.CrownMM < 0:
		return invalid("crown_mm", "%v mm: 0 or more", s.CrownMM)
	case s.Shank != "" && !oneOf(s.Shank, Shanks[:]...):
		return invalid("shank", "%q: soft, medium or hard", s.Shank)
	case s.ShankLength != "" && !oneOf(s.ShankLength, ShankLengths[:]...):
		return invalid("shank_length", "%q: full or three-quarter", s.ShankLength)
	case !(0 <= s.VampMM && s.VampMM <= maxMM):
		return invalid("vamp_mm", "%v mm: from 0 to %v", s.VampMM, maxMM)
	case !(0 <= s.WingsMM && s.WingsMM <= maxMM):
		return invalid("wings_mm", "%v mm: from 0 to %v", s.WingsMM, maxMM)
	case !finite(s.HoursWorn) || s.HoursWorn < 0:
		return invalid("hours_worn", "%v h: 0 or more", s.HoursWorn)
	}
	if len(s.OutlineMM) > 0 {
		p := make(platform.Polygon, len(s.OutlineMM))
		for i, q := range s.OutlineMM {
			p[i] = q
			if max(math.Abs(q[0]), math.Abs(q[1])) > maxMM {
				return invalid("outline_mm", "point %d at %v mm: at most %v either way", i+1, q, maxMM)
			}
		}
		if err := p.Check(); err != nil {
			return invalid("outline_mm", "%v", err)
		}
		if !p.Centred().Contains(platform.Point{}) {
			return invalid("outline_mm", "the centroid lies outside the outline: that is no platform to stand on")
		}
	}
	return nil
}
