package text

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"aplomb/device"
)

// shapes are words of our own for outlines between an oval and a rectangle, with the
// exponent of the superellipse that each stands for.
var shapes = []namedShape{{"oval", 2}, {"rounded", DefaultShape}, {"squarish", 4}, {"rectangle", 20}}

// DefaultShape is the exponent of an outline without a specified shape.
const DefaultShape = 2.5

type namedShape struct {
	word     string
	exponent float64
}

// ShapeHelp describes the values that ParseShape accepts.
const ShapeHelp = "oval, rounded, squarish, rectangle, or a number from 2 to 20"

// ShapeNames returns the words for shapes.
func ShapeNames() (words []string) {
	for _, s := range shapes {
		words = append(words, s.word)
	}
	return words
}

// ParseShape returns the exponent for a word or a number; that of rounded for "".
func ParseShape(typed string) (float64, error) {
	if typed == "" {
		return DefaultShape, nil
	}
	for _, s := range shapes {
		if s.word == typed {
			return s.exponent, nil
		}
	}
	e, err := ParseNumber(typed)
	if err != nil {
		return 0, fmt.Errorf("%.40q: %s", typed, ShapeHelp)
	}
	return e, nil
}

// Shape returns the word for the shape of a shoe's platform, or the exponent where
// there is none.
func Shape(s *device.Shoe) string {
	if len(s.OutlineMM) > 0 {
		return "traced"
	}
	for _, shape := range shapes {
		if shape.exponent == s.OutlineExponent {
			return shape.word
		}
	}
	return Trimmed(s.OutlineExponent)
}

// ParseNumber reads a number, with a decimal point or comma.
func ParseNumber(v string) (float64, error) {
	n, err := strconv.ParseFloat(strings.Replace(v, ",", ".", 1), 64)
	if err != nil {
		return 0, errors.New(NotA("number", v))
	}
	return n, nil
}

// ParseWhole reads a whole number.
func ParseWhole(v string) (int, error) {
	n, err := strconv.Atoi(v)
	if err != nil {
		return 0, errors.New(NotA("whole number", v))
	}
	return n, nil
}

// withUnit matches a number with a unit.
var withUnit = regexp.MustCompile(`^[-+]?[0-9.,]+ ?(\pL+|mm[2²])$`)

// NotA returns the sentence that v, which the user typed, is no value of a kind. It adds
// what to write where v is a number with a unit.
func NotA(kind, v string) string {
	said := fmt.Sprintf("%.40q is no %s", v, kind)
	if withUnit.MatchString(v) && strings.HasSuffix(kind, "number") {
		said += "; write it without a unit"
	}
	return said
}
