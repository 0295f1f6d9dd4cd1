package drawing

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"aplomb/device/platform"
)

// ParseSVG reads the one path of an SVG file (SVG 1.1, W3C Recommendation of 16 August
// 2011: path data of section 8.3, transforms of 7.6). Unless opt gives the scale, the file
// must state its width and its viewBox, the width in mm, cm, in, pt or pc; a pixel is no
// length. Errors name the file as name.
func ParseSVG(name string, data []byte, opt Options) (platform.Polygon, error) {
	if err := opt.check(); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if len(data) > maxBytes {
		return nil, fmt.Errorf("%s: more than %d bytes: leave only the outline in the drawing", name, maxBytes)
	}
	d, err := readDrawing(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	scale := opt.ScaleMM
	if scale == 0 {
		if scale, err = d.scale(); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
	}
	grown := d.transform.norm() * scale
	if !(grown > 1e-6 && grown < 1e6) {
		return nil, fmt.Errorf("%s: its scale and transforms leave nothing of the path", name)
	}
	p, err := flatten(d.path, flatMM/grown)
	if err != nil {
		return nil, fmt.Errorf("%s: path: %w", name, err)
	}
	for i, q := range p {
		q = d.transform.apply(q)
		p[i] = platform.Point{q[0], -q[1]} // y runs down in SVG
	}
	return finish(name, p, scale, opt.Mirror)
}

// flatMM is the largest distance between the outline and the curve, mm.
const flatMM = 0.01

// svgFile is what an outline needs of an SVG file.
type svgFile struct {
	width, height, viewBox string // of the outermost svg element
	fit                    string // its preserveAspectRatio
	path                   string // its one path
	transform              matrix // of the path, with those of the elements around it
}

// readDrawing finds the one path that is drawn, its transforms, and the size of the file.
func readDrawing(data []byte) (d svgFile, err error) {
	decoder := xml.NewDecoder(bytes.NewReader(data))
	// Files name their encoding in many spellings. All that is read here is ASCII.
	decoder.CharsetReader = func(_ string, in io.Reader) (io.Reader, error) { return in, nil }
	places := []matrix{identity} // of the elements around
	hidden := 0                  // depth within elements that are not drawn
	paths := 0
	for {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return d, fmt.Errorf("no SVG drawing: %v", err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			if len(places) == 1 && e.Name.Local != "svg" {
				return d, fmt.Errorf("no SVG drawing: it begins with <%.20s>", e.Name.Local)
			}
			if len(places) > 100 {
				return d, errors.New("drawn too deep in groups: leave only the outline in the drawing")
			}
			if len(places) == 1 {
				d.width, d.height = attribute(e, "width"), attribute(e, "height")
				d.viewBox, d.fit = attribute(e, "viewBox"), attribute(e, "preserveAspectRatio")
			} else if e.Name.Local == "svg" {
				return d, errors.New("a drawing within the drawing: leave only the outline in it")
			}
			if hidden > 0 || notDrawn[e.Name.Local] {
				hidden++
			}
			own, err := parseTransform(attribute(e, "transform"))
			if err != nil {
				return d, err
			}
			place := places[len(places)-1].then(own)
			places = append(places, place)
			if e.Name.Local == "path" && hidden == 0 {
				paths++
				d.path, d.transform = attribute(e, "d"), place
			}
		case xml.EndElement:
			places = places[:len(places)-1]
			if hidden > 0 {
				hidden--
			}
		}
	}
	if paths != 1 {
		return d, fmt.Errorf("%d paths in it: leave one, the outline of the platform", paths)
	}
	return d, nil
}

// notDrawn lists elements whose paths are not drawn themselves.
var notDrawn = map[string]bool{"defs": true, "clipPath": true, "mask": true, "marker": true, "pattern": true, "symbol": true}

// attribute returns the value of an attribute without namespace, "" where there is none.
func attribute(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name && a.Name.Space == "" {
			return a.Value
		}
	}
	return ""
}

// mmPerUnit gives the units that are a length on paper in mm (SVG 1.1, section 7.10, and
// CSS 2.1, section 4.3.2).
var mmPerUnit = map[string]float64{"mm": 1, "cm": 10, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6}

// scale returns the length of one unit of the outermost coordinates, mm. The viewBox is
// drawn as large as fits within width and height, or, where preserveAspectRatio says
// slice, as small as covers them (SVG 1.1, section 7.8).
func (d svgFile) scale() (float64, error) {
	const say = "say how many mm one unit is (--scale)"
	width, ok := lengthMM(d.width)
	if !ok {
		return 0, fmt.Errorf("the drawing has no width in mm (%.20q): %s", d.width, say)
	}
	box, ok := numbers(d.viewBox)
	if !ok || len(box) != 4 || !(box[2] > 0 && box[3] > 0) || math.IsInf(width/box[2], 0) {
		return 0, fmt.Errorf("the drawing says no size in mm (width %.20q, viewBox %.40q): %s", d.width, d.viewBox, say)
	}
	if strings.Contains(d.fit, "none") {
		return 0, fmt.Errorf("the drawing may be stretched (preserveAspectRatio none): %s", say)
	}
	if h := strings.TrimSpace(d.height); h == "" || h == "100%" || h == "auto" { // it follows from the width
		return width / box[2], nil
	}
	height, ok := lengthMM(d.height)
	if !ok {
		return 0, fmt.Errorf("the drawing has a width in mm and a height that is not (%.20q): %s", d.height, say)
	}
	if strings.Contains(d.fit, "slice") {
		return max(width/box[2], height/box[3]), nil
	}
	return min(width/box[2], height/box[3]), nil
}

// lengthMM reads a length above 0 in one of the units of mmPerUnit.
func lengthMM(text string) (mm float64, ok bool) {
	if len(text) < 3 {
		return 0, false
	}
	number, unit := text[:len(text)-2], text[len(text)-2:]
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	mm = v * mmPerUnit[unit]
	return mm, err == nil && mm > 0 && !math.IsInf(mm, 1)
}

// numbers reads numbers separated by spaces and commas.
func numbers(text string) (all []float64, ok bool) {
	s := scanner{text: text}
	for !s.done() {
		v, err := s.number()
		if err != nil {
			return nil, false
		}
		all = append(all, v)
	}
	return all, true
}
