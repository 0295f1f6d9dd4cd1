package screen

import (
	"image/color"

	"github.com/charmbracelet/x/ansi"
)

// Scale returns the colours of pressure, from no pressure to the end of the scale, of
// terminals with all colours and of those with 256.
func Scale() (all, few []color.Color) {
	for _, c := range palette[pressureScale:] {
		all, few = append(all, c.RGBA), append(few, ansi.IndexedColor(c.of256))
	}
	return all, few
}
