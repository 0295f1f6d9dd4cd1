// Package plots draws results: where the load sits on each platform, comparisons of shoes
// and of feet, the trace of a recording, and measures over visits. Package report puts
// the pictures on HTML pages.
//
// Every picture is a type with the numbers it shows, knows its size, and draws itself on
// a canvas of gonum.org/v1/plot, which writes SVG, PNG and PDF. Nothing is distinguished
// by colour alone: shapes, line styles or words differ too.
//
// Positions on a platform are in mm from its centroid: medial, positive towards the big
// toe on either foot, and over, positive towards the front. Positions in a picture are in
// points from its lower left corner. The New functions convert values of a measure to
// display units (see words.Display).
package plots

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgpdf"
	"gonum.org/v1/plot/vg/vgsvg"

	"aplomb/analyze/measure"
)

// Picture is a picture that can be drawn in any of Formats.
type Picture interface {
	Size() (width, height vg.Length) // the size for which its text sizes are meant
	Draw(draw.Canvas)
	Describe() string // its content in words, for screen readers
}

// Formats lists the formats of Write.
var Formats = []string{"svg", "png", "pdf"}

const dpi = 200 // of a PNG

// Write writes p to w in one of Formats, with a title, its description and the provenance
// of its numbers, which may be nil. The bytes depend on picture and provenance alone. It
// returns an error for any other format and where w fails.
func Write(w io.Writer, p Picture, format string, from *measure.Provenance) error {
	var b bytes.Buffer
	if err := write(&b, p, format, dpi); err != nil {
		return err
	}
	m, err := metadataOf(p, from)
	if err != nil {
		return fmt.Errorf("provenance of a picture: %w", err)
	}
	picture, err := m.with(b.Bytes(), format)
	if err != nil {
		return fmt.Errorf("metadata of a picture as %s: %w", format, err)
	}
	_, err = w.Write(picture)
	return err
}

// WriteElement writes p to w as an svg element for an HTML page that describes it itself:
// without XML declaration, title, description and provenance.
func WriteElement(w io.Writer, p Picture) error {
	var b bytes.Buffer
	if err := write(&b, p, "svg", dpi); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes()[bytes.Index(b.Bytes(), []byte("<svg")):])
	return err
}

func write(w io.Writer, p Picture, format string, dpi int) error {
	width, height := p.Size()
	var c vg.CanvasWriterTo
	switch format {
	case "svg":
		c = vgsvg.New(width, height)
	case "png":
		c = vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(dpi))}
	case "pdf":
		c = pdfCanvas{vgpdf.New(width, height)}
	default:
		return fmt.Errorf("picture format %q: one of %s", format, strings.Join(Formats, ", "))
	}
	p.Draw(draw.New(c))
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		return fmt.Errorf("drawing as %s: %w", format, err)
	}
	out := b.Bytes()
	if format == "svg" {
		out = withFallbackFonts(withoutComments(out))
	}
	_, err := w.Write(out)
	return err
}

// withFallbackFonts adds fonts of the same widths as Liberation Sans to an SVG.
// The SVG canvas names Liberation Sans alone, and a browser without it would use
// a serif font of other widths.
func withFallbackFonts(svg []byte) []byte {
	// A quote in a text is escaped, so this can only match the attribute.
	return bytes.ReplaceAll(svg,
		[]byte(`style="font-family:Liberation Sans;font-variant:normal;`),
		[]byte(`style="font-family:'Liberation Sans',Arial,Helvetica,sans-serif;`))
}

// withoutComments removes the comment in which the SVG canvas names the libraries that
// drew it. Texts of a picture are escaped, so no other text looks like it.
func withoutComments(svg []byte) []byte {
	from := bytes.Index(svg, []byte("<!--"))
	if from < 0 {
		return svg
	}
	to := bytes.Index(svg[from:], []byte("-->\n"))
	if to < 0 {
		return svg
	}
	return append(bytes.Clone(svg[:from]), svg[from+to+len("-->\n"):]...)
}
