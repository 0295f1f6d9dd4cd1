package screen

import "image/color"

// Scale returns the colours of pressure, from none to most.
func Scale() (all []color.Color) {
	for _, c := range palette[scale:] {
		all = append(all, c.RGBA)
	}
	return all
}
