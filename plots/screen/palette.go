package screen

import (
	"fmt"
	"image/color"
	"math"
)

// Inks beside the scale of pressure. The target is blue and nothing else is;
// pressure is amber, so that the two part for every kind of colour blindness.
const (
	noInk   ink = iota
	edge        // the platform's outline
	target      // the kern's
	mark        // the centre of pressure
	shadow      // round it
	alarm       // the ground of what must not be missed
	onAlarm     // and what is written on it
	suspect     // a cell not to be believed
	scale       // the first step of pressure: none
)

// steps is how many steps the scale of pressure has.
const steps = 16

// colour is an ink as a terminal is told it.
type colour struct {
	color.RGBA
	sgr string
}

func rgb(r, g, b uint8) colour {
	return colour{color.RGBA{r, g, b, 255}, fmt.Sprintf("%d;%d;%d", r, g, b)}
}

// palette has the colours of all inks.
var palette = newPalette()

func newPalette() []colour {
	p := []colour{
		noInk: {}, edge: rgb(138, 138, 138), target: rgb(95, 175, 255), mark: rgb(255, 255, 255), shadow: rgb(0, 0, 0),
		alarm: rgb(255, 215, 95), onAlarm: rgb(18, 18, 18), suspect: rgb(215, 95, 255),
	}
	for i := range steps {
		p = append(p, amber(float64(i)/(steps-1)))
	}
	return p
}

// amber is the scale of pressure, share from 0 to 1: one hue, lightness in even
// steps, as Oklab has them (B. Ottosson, A perceptual color space for image
// processing, 2020; the matrices below are from there, from memory).
func amber(share float64) colour {
	const hue = 75 * math.Pi / 180
	light := 0.24 + 0.70*share
	chroma := 0.02 + 0.52*share*(1-share)
	chroma = min(chroma, 0.125) * min(1, (1.06-light)/0.26)
	a, b := chroma*math.Cos(hue), chroma*math.Sin(hue)
	l := cube(light + 0.3963377774*a + 0.2158037573*b)
	m := cube(light - 0.1055613458*a - 0.0638541728*b)
	s := cube(light - 0.0894841775*a - 1.2914855480*b)
	return rgb(
		gamma(4.0767416621*l-3.3077115913*m+0.2309699292*s),
		gamma(-1.2684380046*l+2.6097574011*m-0.3413193965*s),
		gamma(-0.0041960863*l-0.7034186147*m+1.7076147010*s),
	)
}

func cube(v float64) float64 { return v * v * v }

// gamma is a linear share of light as an sRGB value (IEC 61966-2-1).
func gamma(v float64) uint8 {
	v = max(0, min(1, v))
	if v <= 0.0031308 {
		v *= 12.92
	} else {
		v = 1.055*math.Pow(v, 1/2.4) - 0.055
	}
	return uint8(math.Round(255 * v))
}

// shade is the ink of a pressure that is share of the scale's top.
func shade(share float64) ink {
	return scale + ink(math.Round((steps-1)*max(0, min(1, share))))
}

// shades without colours, from none to all.
var shades = []rune{'·', '░', '▒', '▓', '█'}

func shadeChar(share float64) rune {
	return shades[int(math.Round(float64(len(shades)-1)*max(0, min(1, share))))]
}
