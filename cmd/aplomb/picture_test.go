//go:build unix

package main

import (
	"flag"
	"fmt"
	"html"
	"image/color"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/charmbracelet/x/vt"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the README's pictures anew: look at them before keeping them")

// keepPicture compares the README's picture of the live view with the terminal, in the
// parts that are the same each time: no two recordings have the same frames.
func keepPicture(t *testing.T, x *terminal) {
	path := filepath.Join("..", "..", "testdata", "readme", "live.svg")
	var picture string
	x.look(func(e *vt.Emulator) { picture = photograph(e) })
	if *update {
		require.NoError(t, os.WriteFile(path, []byte(picture), 0o644))
	}
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	head, _, _ := strings.Cut(picture, "\n")
	assert.True(t, strings.HasPrefix(string(kept), head), "%s has another size: go test ./cmd/aplomb -update, then look at it", path)
	for _, text := range []string{"lost ttyUSB0", "recording continues when it is back", "Pain means stop.", "BACK", "OVER"} {
		assert.Contains(t, string(kept), text)
	}
}

// photograph draws a terminal's screen as SVG: blocks as rectangles, so that they join,
// and everything else as text.
func photograph(e *vt.Emulator) string {
	const wide, high = 8, 16
	w, h := e.Width(), e.Height()
	paper, paint := color.RGBA{18, 20, 24, 255}, color.RGBA{215, 218, 222, 255}
	hex := func(c color.Color, other color.Color) string {
		if c == nil {
			c = other
		}
		r, g, b, _ := c.RGBA()
		return fmt.Sprintf("#%02x%02x%02x", r>>8, g>>8, b>>8)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 %d %d\" font-family=\"DejaVu Sans Mono, Menlo, Consolas, monospace\" font-size=\"13\">\n", (w+2)*wide, (h+1)*high)
	fmt.Fprintf(&b, "<rect width=\"100%%\" height=\"100%%\" fill=\"%s\"/>\n", hex(paper, nil))
	box := func(px, py, pw, ph int, fill string) {
		fmt.Fprintf(&b, "<rect x=\"%d\" y=\"%d\" width=\"%d\" height=\"%d\" fill=\"%s\" shape-rendering=\"crispEdges\"/>\n", px, py, pw, ph, fill)
	}
	for y := range h {
		for i := 0; i < w; {
			c := e.CellAt(i, y)
			if c == nil || c.Content == "" {
				i++
				continue
			}
			end, text := i+1, c.Content
			block := strings.Contains("▀▄█", text)
			for end < w {
				d := e.CellAt(end, y)
				if d == nil || d.Style != c.Style || block != strings.Contains("▀▄█", d.Content) || block && d.Content != c.Content {
					break
				}
				text += d.Content
				end++
			}
			px, py, n := (i+1)*wide, y*high+high/2, (end-i)*wide
			if c.Style.Bg != nil {
				box(px, py, n, high, hex(c.Style.Bg, paper))
			}
			fore := hex(c.Style.Fg, paint)
			switch {
			case c.Content == "█":
				box(px, py, n, high, fore)
			case c.Content == "▀":
				box(px, py, n, high/2, fore)
			case c.Content == "▄":
				box(px, py+high/2, n, high/2, fore)
			case strings.TrimSpace(text) != "":
				look := ""
				if c.Style.Attrs&1 != 0 {
					look += " font-weight=\"bold\""
				}
				if c.Style.Attrs&2 != 0 {
					look += " opacity=\"0.65\""
				}
				lead := len([]rune(text)) - len([]rune(strings.TrimLeft(text, " ")))
				text = strings.TrimSpace(text)
				fmt.Fprintf(&b, "<text x=\"%d\" y=\"%d\" fill=\"%s\" textLength=\"%d\" xml:space=\"preserve\"%s>%s</text>\n",
					px+lead*wide, py+12, fore, len([]rune(text))*wide, look, html.EscapeString(text))
			}
			i = end
		}
	}
	b.WriteString("</svg>\n")
	return b.String()
}
