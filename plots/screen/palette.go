package screen

import (
	"fmt"
	"image/color"
	"math"
)

// Indices into palette. Blue is for the kern and for nothing else; pressure is
// amber, which is told apart from blue with every kind of colour blindness.
const (
	noColour      colourIndex = iota
	outlineColour             // the platform's outline
	loadedColour              // the outline at an edge that a pad press has loaded
	kernColour                // the outline of the kern
	copColour                 // the mark at the centre of pressure
	copHalo                   // the border of that mark
	alarmGround               // the background of urgent texts
	alarmText                 // urgent texts
	suspectColour             // a cell whose reading is doubtful
	pressureScale             // the first step of the scale of pressure: no pressure
)

// steps is the number of steps of the scale of pressure.
const steps = 16

// colour is a colour with its parameters of the control sequence that selects it.
type colour struct {
	color.RGBA
	sgr string
}

func rgb(r, g, b uint8) colour {
	return colour{color.RGBA{r, g, b, 255}, fmt.Sprintf("%d;%d;%d", r, g, b)}
}

// palette has all colours of the screen, by colourIndex.
var palette = newPalette()

func newPalette() []colour {
	p := []colour{
		noColour: {}, outlineColour: rgb(138, 138, 138), loadedColour: rgb(255, 255, 255), kernColour: rgb(95, 175, 255), copColour: rgb(255, 255, 255), copHalo: rgb(0, 0, 0),
		alarmGround: rgb(255, 215, 95), alarmText: rgb(18, 18, 18), suspectColour: rgb(215, 95, 255),
	}
	for i := range steps {
		p = append(p, amber(float64(i)/(steps-1)))
	}
	return p
}

// amber returns the colour of a pressure, given as a share of the end of the scale,
// 0 to 1. The scale has one hue, and lightness that rises in equal steps of Oklab.
// The matrices are those of B. Ottosson, A perceptual color space for image
// processing (2020), bottosson.github.io/posts/oklab.
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

// gamma returns the sRGB value of a linear intensity, 0 to 1 (IEC 61966-2-1).
func gamma(v float64) uint8 {
	v = max(0, min(1, v))
	if v <= 0.0031308 {
		v *= 12.92
	} else {
		v = 1.055*math.Pow(v, 1/2.4) - 0.055
	}
	return uint8(math.Round(255 * v))
}

// pressureColour returns the colour of a pressure, given as a share of the end of
// the scale, 0 to 1.
func pressureColour(share float64) colourIndex {
	return pressureScale + colourIndex(math.Round((steps-1)*max(0, min(1, share))))
}

// plainShades are the characters that stand for pressure on a terminal without
// colours, from no pressure to the end of the scale.
var plainShades = []rune{'·', '░', '▒', '▓', '█'}

func plainShade(share float64) rune {
	return plainShades[int(math.Round(float64(len(plainShades)-1)*max(0, min(1, share))))]
}
