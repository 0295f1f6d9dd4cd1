package drawing

import (
	"errors"
	"fmt"
	"strconv"
)

// scanner reads numbers and commands of SVG attributes (SVG 1.1, section 8.3.9), in which
// separators may be left out where the meaning stays unique.
type scanner struct {
	text string
	at   int // index of the next byte
}

// done skips separators and reports whether the text has ended.
func (s *scanner) done() bool {
	for s.at < len(s.text) && isSeparator(s.text[s.at]) {
		s.at++
	}
	return s.at == len(s.text)
}

func isSeparator(c byte) bool { return c == ' ' || c == '\t' || c == '\r' || c == '\n' || c == ',' }

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

// numberFollows reports whether a number is next.
func (s *scanner) numberFollows() bool {
	if s.done() {
		return false
	}
	c := s.text[s.at]
	return isDigit(c) || c == '-' || c == '+' || c == '.'
}

var errNumber = errors.New("a number should stand here")

// number reads a number such as 1, -.5 or 3e-2.
func (s *scanner) number() (float64, error) {
	if !s.numberFollows() {
		return 0, errNumber
	}
	from := s.at
	digits := func() {
		for s.at < len(s.text) && isDigit(s.text[s.at]) {
			s.at++
		}
	}
	if c := s.text[s.at]; c == '-' || c == '+' {
		s.at++
	}
	digits()
	if s.at < len(s.text) && s.text[s.at] == '.' {
		s.at++
		digits()
	}
	if mantissa := s.at; mantissa < len(s.text) && (s.text[mantissa] == 'e' || s.text[mantissa] == 'E') {
		s.at++
		if s.at < len(s.text) && (s.text[s.at] == '-' || s.text[s.at] == '+') {
			s.at++
		}
		exponent := s.at
		digits()
		if s.at == exponent { // a unit such as em, and no exponent
			s.at = mantissa
		}
	}
	v, err := strconv.ParseFloat(s.text[from:s.at], 64)
	if err != nil {
		return 0, fmt.Errorf("%.40q is no number", s.text[from:s.at])
	}
	return v, nil
}

// flag reads the 0 or 1 of an arc command.
func (s *scanner) flag() (float64, error) {
	if s.done() || s.text[s.at] != '0' && s.text[s.at] != '1' {
		return 0, errors.New("an arc's flag should stand here, 0 or 1")
	}
	s.at++
	return float64(s.text[s.at-1] - '0'), nil
}
