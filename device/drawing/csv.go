package drawing

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"aplomb/device/platform"
)

// ParseCSV reads an outline from lines of medial and over, separated by comma, semicolon,
// tab or spaces, in order round the platform. A first line without numbers is a heading;
// lines that begin with # are comments. Errors name the file as name.
func ParseCSV(name string, data []byte, opt Options) (platform.Polygon, error) {
	if err := opt.check(); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if len(data) > maxBytes || !utf8.Valid(data) {
		return nil, fmt.Errorf("%s: no outline in CSV: lines of medial and over in mm", name)
	}
	scale := opt.ScaleMM
	if scale == 0 {
		scale = 1
	}
	var p platform.Polygon
	first := true
	number := 0
	for line := range bytes.SplitSeq(bytes.TrimPrefix(data, []byte("\ufeff")), []byte("\n")) {
		number++
		text := strings.TrimSpace(string(line))
		if text == "" || text[0] == '#' {
			continue
		}
		at, ok := pointOf(text)
		if !ok && !first {
			return nil, fmt.Errorf("%s:%d: %.40q is no point: write medial and over in mm, such as 12.5,-3", name, number, text)
		}
		first = false
		if ok {
			p = append(p, at)
		}
	}
	return finish(name, p, scale, opt.Mirror)
}

// pointOf reads the two numbers of a line.
func pointOf(line string) (at platform.Point, ok bool) {
	words := strings.FieldsFunc(line, func(r rune) bool { return strings.ContainsRune(",; \t", r) })
	if len(words) != 2 {
		return at, false
	}
	for i, w := range words {
		v, err := strconv.ParseFloat(w, 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return at, false
		}
		at[i] = v
	}
	return at, true
}
