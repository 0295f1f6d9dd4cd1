package report

import (
	"bytes"
	"html"
	"html/template"
	"regexp"

	"aplomb/plots"
)

// figures are the pictures as SVG to stand in the page.
type figures struct {
	Platforms []template.HTML // one or none
	Ladder    []template.HTML // one or none
	Wears     []template.HTML // a shoe each, where there are several
	Shoes     []template.HTML // a foot each, of many shoes a measure and foot each
	Feet      []template.HTML // a shoe each
	Traces    []template.HTML // a recording each
}

// mostRows is how many shoes a picture may hold before it is split by measures:
// what is taller than a page is drawn smaller there than one can read.
const mostRows = 2

func newFigures(d Data) (figures, error) {
	var f figures
	var split []*plots.Shoes
	for _, p := range plots.All(d.Results, d.Comparison) {
		if many, ok := p.Picture.(*plots.Shoes); ok && len(many.Panels[0].Rows) > mostRows {
			split = append(split, many)
			continue
		}
		if platforms, ok := p.Picture.(*plots.Platforms); ok {
			for i, row := range platforms.Rows {
				for _, foot := range row.Feet {
					if foot != nil {
						platforms.Rows[i].Facts = above(foot.Profile, d.Inches)
					}
				}
			}
		}
		svg, err := inline(p)
		if err != nil {
			return f, err
		}
		switch p.Picture.(type) {
		case *plots.Platforms:
			f.Platforms = append(f.Platforms, svg)
		case *plots.Shoes:
			f.Shoes = append(f.Shoes, svg)
		case *plots.Ladder:
			f.Ladder = append(f.Ladder, svg)
		case *plots.Wear:
			f.Wears = append(f.Wears, svg)
		case *plots.Feet:
			f.Feet = append(f.Feet, svg)
		case *plots.Trace:
			f.Traces = append(f.Traces, svg)
		}
	}
	for i := range plots.MainMeasures { // the feet side by side
		for _, p := range split {
			if i >= len(p.Panels) {
				continue
			}
			one := *p
			one.Panels = p.Panels[i : i+1]
			svg, err := inline(&one)
			if err != nil {
				return f, err
			}
			f.Shoes = append(f.Shoes, svg)
		}
	}
	if len(f.Wears) < 2 {
		f.Wears = nil // one shoe's marks are in Platforms
	}
	return f, nil
}

var svgSize = regexp.MustCompile(`^<svg width="[^"]*" height="[^"]*"`)

// inline draws p as an SVG element without a size of its own, so that the page
// sets it, and with its description for those who cannot see it.
// What came from a user is escaped where it is drawn and here.
func inline(p plots.Picture) (template.HTML, error) {
	var b bytes.Buffer
	if err := plots.Write(&b, p, "svg"); err != nil {
		return "", err
	}
	svg := b.Bytes()
	svg = svg[bytes.Index(svg, []byte("<svg")):] // without the XML declaration
	head := `<svg role="img" preserveAspectRatio="xMinYMin" aria-label="` + html.EscapeString(p.Describe()) + `"`
	return template.HTML(svgSize.ReplaceAllLiteral(svg, []byte(head))), nil
}
