package screen

import "image/color"

// Scale returns the colours of pressure, from no pressure to the end of the scale.
func Scale() (all []color.Color) {
	for _, c := range palette[pressureScale:] {
		all = append(all, c.RGBA)
	}
	return all
}
