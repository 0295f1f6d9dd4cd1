package drawing

import (
	"fmt"
	"math"
	"strings"

	"aplomb/device/platform"
)

// matrix is [a b c d e f] of SVG 1.1, section 7.4: x' = ax + cy + e, y' = bx + dy + f.
type matrix [6]float64

var identity = matrix{1, 0, 0, 1, 0, 0}

// apply returns the image of p.
func (m matrix) apply(p platform.Point) platform.Point {
	return platform.Point{m[0]*p[0] + m[2]*p[1] + m[4], m[1]*p[0] + m[3]*p[1] + m[5]}
}

// then returns the transform of an element with the transform n within one with m.
func (m matrix) then(n matrix) matrix {
	at := m.apply(platform.Point{n[4], n[5]})
	return matrix{
		m[0]*n[0] + m[2]*n[1], m[1]*n[0] + m[3]*n[1],
		m[0]*n[2] + m[2]*n[3], m[1]*n[2] + m[3]*n[3],
		at[0], at[1],
	}
}

// norm returns the Frobenius norm, an upper bound of the factor by which m lengthens.
func (m matrix) norm() float64 { return math.Hypot(math.Hypot(m[0], m[1]), math.Hypot(m[2], m[3])) }

// parseTransform reads a transform attribute (SVG 1.1, section 7.6).
func parseTransform(text string) (matrix, error) {
	all := identity
	rest := strings.TrimLeft(text, " \t\r\n,")
	for rest != "" {
		name, after, opened := strings.Cut(rest, "(")
		arguments, next, closed := strings.Cut(after, ")")
		v, ok := numbers(arguments)
		m, known := transformOf(strings.TrimSpace(name), v)
		if !opened || !closed || !ok || !known {
			return all, fmt.Errorf("transform %.60q: not as SVG 1.1 has it", text)
		}
		all = all.then(m)
		rest = strings.TrimLeft(next, " \t\r\n,")
	}
	return all, nil
}

// transformOf returns the matrix of one transform function, false for an unknown one.
func transformOf(name string, v []float64) (matrix, bool) {
	radians := func(degrees float64) float64 { return degrees * math.Pi / 180 }
	switch n := len(v); {
	case name == "matrix" && n == 6:
		return matrix(v), true
	case name == "translate" && n == 1:
		return matrix{1, 0, 0, 1, v[0], 0}, true
	case name == "translate" && n == 2:
		return matrix{1, 0, 0, 1, v[0], v[1]}, true
	case name == "scale" && n == 1:
		return matrix{v[0], 0, 0, v[0], 0, 0}, true
	case name == "scale" && n == 2:
		return matrix{v[0], 0, 0, v[1], 0, 0}, true
	case name == "rotate" && (n == 1 || n == 3):
		sin, cos := math.Sincos(radians(v[0]))
		m := matrix{cos, sin, -sin, cos, 0, 0}
		if n == 3 {
			m = matrix{1, 0, 0, 1, v[1], v[2]}.then(m).then(matrix{1, 0, 0, 1, -v[1], -v[2]})
		}
		return m, true
	case name == "skewX" && n == 1:
		return matrix{1, 0, math.Tan(radians(v[0])), 1, 0, 0}, true
	case name == "skewY" && n == 1:
		return matrix{1, math.Tan(radians(v[0])), 0, 1, 0, 0}, true
	}
	return identity, false
}
