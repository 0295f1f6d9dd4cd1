package drawing

import (
	"errors"
	"fmt"
	"math"

	"aplomb/device/platform"
)

// arguments is the number of arguments of each command of path data.
var arguments = map[byte]int{'M': 2, 'L': 2, 'H': 1, 'V': 1, 'C': 6, 'S': 4, 'Q': 4, 'T': 2, 'A': 7, 'Z': 0}

// flatten reads path data (SVG 1.1, section 8.3) that draws one closed curve. It returns
// points on the curve. The straight lines between them are nowhere further than tolerance
// from the curve, in the unit of the path.
func flatten(data string, tolerance float64) (platform.Polygon, error) {
	p := pen{tolerance: tolerance}
	s := scanner{text: data}
	for !s.done() {
		at := s.at
		command := s.text[at]
		s.at++
		count, known := arguments[capital(command)]
		if !known {
			return nil, fmt.Errorf("byte %d: %q is no command of path data", at+1, rune(command))
		}
		for more := true; more; more = count > 0 && s.numberFollows() {
			v, err := s.arguments(capital(command), count)
			if err != nil {
				return nil, fmt.Errorf("byte %d: %w", s.at+1, err)
			}
			if err := p.draw(command, v); err != nil {
				return nil, fmt.Errorf("byte %d: %w", at+1, err)
			}
			switch command { // further pairs of a moveto are linetos
			case 'M':
				command = 'L'
			case 'm':
				command = 'l'
			}
		}
	}
	if len(p.points) == 0 {
		return nil, errors.New("it draws nothing")
	}
	return p.points, nil
}

// arguments reads the arguments of one command.
func (s *scanner) arguments(command byte, count int) (v [7]float64, err error) {
	for i := range count {
		if command == 'A' && (i == 3 || i == 4) {
			v[i], err = s.flag()
		} else {
			v[i], err = s.number()
		}
		if err == nil && math.Abs(v[i]) > 1e9 {
			err = fmt.Errorf("%g is too large", v[i])
		}
		if err != nil {
			return v, err
		}
	}
	return v, nil
}

// capital returns the capital form of a command, which takes absolute coordinates.
func capital(command byte) byte {
	if 'a' <= command && command <= 'z' {
		return command - 'a' + 'A'
	}
	return command
}

// pen draws one curve as a polygon.
type pen struct {
	tolerance float64
	points    platform.Polygon

	start, at platform.Point // start of the subpath, and current point
	control   platform.Point // last control point of the curve before, which S and T reflect
	last      byte           // the command before, as a capital; 0 at the beginning
	apart     bool           // the next line begins another curve
}

// draw executes one command.
func (p *pen) draw(command byte, v [7]float64) error {
	big := capital(command)
	if p.last == 0 && big != 'M' {
		return errors.New("path data begins with a moveto")
	}
	to := func(x, y float64) platform.Point {
		if command != big {
			return platform.Point{p.at[0] + x, p.at[1] + y}
		}
		return platform.Point{x, y}
	}
	smooth := func(before string) platform.Point { // the first control point of S and T
		if p.last == before[0] || p.last == before[1] {
			return platform.Point{2*p.at[0] - p.control[0], 2*p.at[1] - p.control[1]}
		}
		return p.at
	}
	if big != 'M' && big != 'Z' {
		if p.apart && len(p.points) > 0 {
			return errors.New("it draws more than one curve: leave one, the outline of the platform")
		}
		if p.apart {
			p.points, p.apart = append(p.points, p.at), false
		}
	}
	var err error
	switch big {
	case 'M':
		p.at = to(v[0], v[1])
		p.start, p.apart = p.at, true
	case 'Z':
		p.at, p.apart = p.start, true
	case 'L':
		err = p.line(to(v[0], v[1]))
	case 'H':
		err = p.line(platform.Point{to(v[0], 0)[0], p.at[1]})
	case 'V':
		err = p.line(platform.Point{p.at[0], to(0, v[0])[1]})
	case 'C':
		first, end := to(v[0], v[1]), to(v[4], v[5])
		p.control = to(v[2], v[3])
		err = p.cubic(first, p.control, end)
	case 'S':
		first, end := smooth("CS"), to(v[2], v[3])
		p.control = to(v[0], v[1])
		err = p.cubic(first, p.control, end)
	case 'Q':
		end := to(v[2], v[3])
		p.control = to(v[0], v[1])
		err = p.quadratic(p.control, end)
	case 'T':
		end := to(v[0], v[1])
		p.control = smooth("QT")
		err = p.quadratic(p.control, end)
	case 'A':
		err = p.arc(v[0], v[1], v[2], v[3] != 0, v[4] != 0, to(v[5], v[6]))
	}
	p.last = big
	return err
}
