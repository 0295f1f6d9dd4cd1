package report

import (
	"bytes"
	"html"
	"html/template"
	"regexp"

	"aplomb/plots"
)

// figures are the pictures of the lab sheet as SVG elements.
type figures struct {
	Platforms []template.HTML // one or none
	Ladder    []template.HTML // one or none
	Wears     []template.HTML // one for each shoe; none for a single shoe
	Shoes     []template.HTML // one for each foot, or for each foot and measure of many shoes
	Feet      []template.HTML // one for each shoe
	Traces    []template.HTML // one for each recording
}

// maxRows is the number of shoes from which on a picture is split by measures. A
// picture taller than a page is printed too small to read.
const maxRows = 2

func newFigures(d Data) (figures, error) {
	var f figures
	var split []*plots.Shoes
	for _, p := range plots.All(d.Results, d.Comparison) {
		if many, ok := p.Picture.(*plots.Shoes); ok && len(many.Panels[0].Rows) > maxRows {
			split = append(split, many)
			continue
		}
		if platforms, ok := p.Picture.(*plots.Platforms); ok {
			for i, row := range platforms.Rows {
				for _, foot := range row.Feet {
					if foot != nil {
						platforms.Rows[i].Facts = aboveThePlatform(foot.Profile, d.Inches)
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
	for i := range plots.MainMeasures { // both feet of a measure come together
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
		f.Wears = nil // Platforms shows the marks of a single shoe
	}
	return f, nil
}

var svgSize = regexp.MustCompile(`^<svg width="[^"]*" height="[^"]*"`)

// inline returns p as an SVG element without a size, which the page sets, and with
// its description for screen readers. The SVG canvas escapes the texts of users in
// the picture; inline escapes those in the description.
func inline(p plots.Picture) (template.HTML, error) {
	var b bytes.Buffer
	if err := plots.WriteElement(&b, p); err != nil {
		return "", err
	}
	head := `<svg role="img" preserveAspectRatio="xMinYMin" aria-label="` + html.EscapeString(p.Describe()) + `"`
	return template.HTML(svgSize.ReplaceAllLiteral(b.Bytes(), []byte(head))), nil
}
