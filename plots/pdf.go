package plots

import (
	xfont "golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgpdf"
)

// pdfCanvas is a PDF canvas that draws text as the outlines of its glyphs. The
// canvas that it wraps writes text in code page 1252, which has no minus sign and
// no arrows, and finds no bold font.
type pdfCanvas struct{ *vgpdf.Canvas }

func (c pdfCanvas) FillString(face font.Face, at vg.Point, text string) {
	c.Fill(textOutline(face, at, text))
}

// textOutline returns the outlines of the glyphs of a text whose baseline begins
// at a point, with the font's kerning.
func textOutline(face font.Face, at vg.Point, text string) vg.Path {
	var buf sfnt.Buffer
	ttf := face.Face
	em := fixed.Int26_6(ttf.UnitsPerEm()) << 6
	unit := face.Font.Size / vg.Length(em)
	var path vg.Path
	var before sfnt.GlyphIndex
	for i, r := range text {
		// The font shows a box for a glyph that it lacks. Other errors cannot
		// occur because the font is part of the program.
		glyph, _ := ttf.GlyphIndex(&buf, r)
		if i > 0 {
			if kern, err := ttf.Kern(&buf, before, glyph, em, xfont.HintingNone); err == nil {
				at.X += vg.Length(kern) * unit
			}
		}
		outline, _ := ttf.LoadGlyph(&buf, glyph, em, nil)
		path = append(path, glyphOutline(outline, at, unit)...)
		advance, _ := ttf.GlyphAdvance(&buf, glyph, em, xfont.HintingNone)
		at.X += vg.Length(advance) * unit
		before = glyph
	}
	return path
}

func glyphOutline(outline sfnt.Segments, at vg.Point, unit vg.Length) vg.Path {
	place := func(p fixed.Point26_6) vg.Point {
		return vg.Point{X: at.X + vg.Length(p.X)*unit, Y: at.Y - vg.Length(p.Y)*unit}
	}
	var path vg.Path
	for i, s := range outline {
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			if i > 0 {
				path.Close()
			}
			path.Move(place(s.Args[0]))
		case sfnt.SegmentOpLineTo:
			path.Line(place(s.Args[0]))
		case sfnt.SegmentOpQuadTo:
			path.QuadTo(place(s.Args[0]), place(s.Args[1]))
		case sfnt.SegmentOpCubeTo:
			path.CubeTo(place(s.Args[0]), place(s.Args[1]), place(s.Args[2]))
		}
	}
	if len(outline) > 0 {
		path.Close()
	}
	return path
}
