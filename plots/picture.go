// Package plots turns numbers into pictures: the platform and where the dancer
// stands on it, shoe against shoe, left against right, and the trace of a
// recording. Package report gathers them into one HTML page.
//
// Every picture is a small type that knows its size and draws itself on a
// canvas of gonum.org/v1/plot, so SVG, PNG and PDF come from one description.
// Colour never carries a meaning alone: shape, line style or a word goes with it.
package plots

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgpdf"
	"gonum.org/v1/plot/vg/vgsvg"
)

// Picture is something that can be drawn.
type Picture interface {
	Size() (width, height vg.Length) // what it wants, at which its text has its real size
	Draw(draw.Canvas)
	Describe() string // the same in a sentence, for those who cannot see it
}

// Formats lists what Write can write.
var Formats = []string{"svg", "png", "pdf"}

const dpi = 200 // of a PNG

// Write draws p in one of Formats. The bytes of SVG and PNG depend on the
// picture alone; a PDF carries the time at which it was made.
func Write(w io.Writer, p Picture, format string) error { return write(w, p, format, dpi) }

func write(w io.Writer, p Picture, format string, dpi int) error {
	width, height := p.Size()
	var c vg.CanvasWriterTo
	switch format {
	case "svg":
		c = vgsvg.New(width, height)
	case "png":
		c = vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(dpi))}
	case "pdf":
		c = outlined{vgpdf.New(width, height)}
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
		out = withFallbackFonts(out)
	}
	_, err := w.Write(out)
	return err
}

// Save writes p to path in the format its ending names, beside it first and
// then renamed, so that a failure leaves no half picture.
func Save(p Picture, path string) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), ".picture-*")
	if err != nil {
		return fmt.Errorf("saving a picture: %w", err)
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if err := Write(f, p, strings.ToLower(strings.TrimPrefix(filepath.Ext(path), "."))); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if err := f.Chmod(0o644); err != nil {
		return fmt.Errorf("saving a picture: %w", err)
	}
	if err := f.Close(); err != nil {
		return fmt.Errorf("saving a picture: %w", err)
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return fmt.Errorf("saving a picture: %w", err)
	}
	return nil
}

// withFallbackFonts names fonts as wide as Liberation Sans for browsers that
// lack it: the canvas names that one alone, and a browser would fall back to a
// serif of other widths.
func withFallbackFonts(svg []byte) []byte {
	// A quote in a text is escaped, so this can only match the attribute.
	return bytes.ReplaceAll(svg,
		[]byte(`style="font-family:Liberation Sans;font-variant:normal;`),
		[]byte(`style="font-family:'Liberation Sans',Arial,Helvetica,sans-serif;`))
}
