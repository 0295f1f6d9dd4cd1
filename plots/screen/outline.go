package screen

import (
	"fmt"
	"strings"

	"aplomb/analyze/live"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/plots/words"
)

// outlineWide is the number of columns of a platform 45 mm wide. All platforms that
// fit are drawn at this scale, so that a larger one is drawn larger.
const outlineWide = 54

// Outline returns a drawing of a platform's outline and kern in characters, front
// up and big toe to the right as under a left foot, with their sizes below. outline
// is in mm from the centroid. The drawing is plain text of at most 80 columns.
func Outline(outline platform.Polygon) string {
	p := &Platform{Foot: device.Left, Outline: outline, Kern: outline.Kern()}
	mm := max(45.0/outlineWide, p.scaleFor(68, 60))
	lo, hi := outline.Bounds()
	wide, high := int((hi[0]-lo[0])/mm)+3, int((hi[1]-lo[1])/mm)+2
	high += high % 2
	const margin = 3
	c := newCanvas(wide+margin+9, high/2+2)
	c.centre(margin, 0, wide, usual, "front")
	newRaster(p, wide, high, mm).drawPlain(c, margin, 1, &live.FootState{}, -100, -100, live.Edges{})
	c.write(margin+wide+1, 1+high/4, 8, usual, "big toe")
	c.centre(margin, 1+high/2, wide, usual, "back")
	lines := strings.Split(c.render(NoColours), "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	klo, khi := p.Kern.Bounds()
	return strings.Join(lines, "\n") + fmt.Sprintf("\n   o platform, %.1f mm wide, %.1f deep, %.0f mm²\n   + %s, %.1f mm wide, %.1f deep:\n     %s\n",
		hi[0]-lo[0], hi[1]-lo[1], outline.Area(), words.Kern, khi[0]-klo[0], khi[1]-klo[1], words.KernIs)
}
