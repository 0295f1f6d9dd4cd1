package report

import (
	"bytes"
	"html"
	"html/template"
	"regexp"

	"gonum.org/v1/plot/vg"

	"aplomb/plots"
)

// figures are the pictures of the lab sheet as SVG elements.
type figures struct {
	Answer  []template.HTML // where the load sits in every shoe; one or none
	Against []template.HTML // the shoes over one another; one or none
	Shoes   []template.HTML // one for each measure and foot; the last of a foot has the legend
	Ladder  []template.HTML // one or none
	Feet    []template.HTML // one for each shoe
	Traces  []template.HTML // one for each recording
}

func newFigures(d Data) (figures, error) {
	var f figures
	if p := answerPicture(d); p != nil {
		if err := add(&f.Answer, p); err != nil {
			return f, err
		}
	}
	var split []*plots.Shoes
	for _, p := range plots.All(d.Results, d.Comparison) {
		if many, ok := p.Picture.(*plots.Shoes); ok {
			split = append(split, many)
			continue
		}
		if into := f.of(p.Picture); into != nil {
			if err := add(into, p); err != nil {
				return f, err
			}
		}
	}
	for i := range plots.MainMeasures { // both feet of a measure come together
		for _, p := range split {
			if i >= len(p.Panels) {
				continue
			}
			one := *p
			one.Panels, one.Bare = p.Panels[i:i+1], i+1 < len(p.Panels)
			if err := add(&f.Shoes, &one); err != nil {
				return f, err
			}
		}
	}
	return f, nil
}

// of returns the list to which a picture belongs, nil for one that is not part of the
// appendix.
func (f *figures) of(p plots.Picture) *[]template.HTML {
	switch p.(type) {
	case *plots.AgainstKern:
		return &f.Against
	case *plots.Shoes:
		return &f.Shoes
	case *plots.Ladder:
		return &f.Ladder
	case *plots.Feet:
		return &f.Feet
	case *plots.Trace:
		return &f.Traces
	}
	return nil
}

// add adds a picture to others.
func add(to *[]template.HTML, p plots.Picture) error {
	svg, err := inline(p)
	if err != nil {
		return err
	}
	*to = append(*to, svg)
	return nil
}

// answerWidth returns the width of the picture of the first page for a number of shoes: at
// most that of the text, and less for few shoes, whose platforms are limited by the
// available height.
func answerWidth(shoes int) vg.Length { return 6 * vg.Centimeter * vg.Length(max(2, min(3, shoes))) }

// answerPicture returns the picture of the first page, nil where nothing was measured.
func answerPicture(d Data) plots.Picture {
	p := plots.NewPlace(d.Comparison)
	if len(p.Rows) == 0 {
		return nil
	}
	p.Wide = answerWidth(len(p.Rows))
	for i, row := range p.Rows {
		for _, foot := range row.Feet {
			if foot != nil {
				p.Rows[i].Facts = aboveThePlatform(foot.Profile, d.Inches)
			}
		}
	}
	return p
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
