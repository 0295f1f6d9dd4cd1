package screen

import (
	"fmt"
	"image/color"
	"math"
	"strings"
)

// Indices into palette. Blue is used only for the kern; pressure is amber, which can be
// distinguished from blue with every kind of colour blindness.
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
	letterColour              // large letters
	pressureScale             // the first step of the scale of pressure: no pressure
)

// steps is the number of steps of the scale of pressure.
const steps = 16

// Colours is the number of colours of a terminal.
type Colours int

const (
	NoColours   Colours = iota // pressure is shown by characters alone
	Colours16                  // pressure is shown by characters, because the order of lightness of the 16 colours differs between terminals
	Colours256                 // those of xterm
	TrueColours                // any colour of sRGB
)

// colour is a colour in the representations for terminals with different numbers of
// colours.
type colour struct {
	color.RGBA
	of256 uint8 // the colour of xterm's 256
	of16  int8  // the colour of the usual 16, 0 to 15; -1 for the terminal's own
}

// palette has all colours of the screen, by colourIndex.
var palette = newPalette()

func newPalette() []colour {
	p := []colour{
		noColour:      {},
		outlineColour: {color.RGBA{138, 138, 138, 255}, 245, -1},
		loadedColour:  {color.RGBA{255, 255, 255, 255}, 231, -1},
		kernColour:    {color.RGBA{95, 175, 255, 255}, 75, 12},
		copColour:     {color.RGBA{255, 255, 255, 255}, 231, -1},
		copHalo:       {color.RGBA{0, 0, 0, 255}, 16, 0},
		alarmGround:   {color.RGBA{255, 215, 95, 255}, 221, 3},
		alarmText:     {color.RGBA{18, 18, 18, 255}, 233, 0},
		suspectColour: {color.RGBA{215, 95, 255, 255}, 171, 13},
		letterColour:  {amber(13.0 / 15), 222, -1},
	}
	for i := range steps {
		p = append(p, colour{amber(float64(i) / (steps - 1)), scale256[i], 3})
	}
	return p
}

// scale256 is the scale of pressure in xterm's 256 colours. They have no dark amber and few
// light ones, so that it begins with greys and some steps share a colour. Its lightness
// never falls.
var scale256 = [steps]uint8{234, 235, 237, 238, 239, 240, 94, 94, 136, 136, 136, 178, 178, 220, 222, 230}

// writeSGR writes the parameters of the control sequence that selects the colour, each
// after a semicolon, as the colour of the background where ground is set.
func (c *colour) writeSGR(b *strings.Builder, colours Colours, ground bool) {
	base := 30
	if ground {
		base = 40
	}
	switch {
	case colours == TrueColours:
		fmt.Fprintf(b, ";%d;2;%d;%d;%d", base+8, c.R, c.G, c.B)
	case colours == Colours256:
		fmt.Fprintf(b, ";%d;5;%d", base+8, c.of256)
	case colours == Colours16 && c.of16 >= 8:
		fmt.Fprintf(b, ";%d", base+60+int(c.of16)-8)
	case colours == Colours16 && c.of16 >= 0:
		fmt.Fprintf(b, ";%d", base+int(c.of16))
	}
}

// amber returns the colour of a pressure, given as a share of the end of the scale,
// 0 to 1. The scale has one hue, and lightness that rises in equal steps of Oklab.
// The matrices are those of B. Ottosson, A perceptual color space for image
// processing (2020), bottosson.github.io/posts/oklab.
func amber(share float64) color.RGBA {
	const hue = 75 * math.Pi / 180
	light := 0.24 + 0.70*share
	chroma := 0.02 + 0.52*share*(1-share)
	chroma = min(chroma, 0.125) * min(1, (1.06-light)/0.26)
	a, b := chroma*math.Cos(hue), chroma*math.Sin(hue)
	l := cube(light + 0.3963377774*a + 0.2158037573*b)
	m := cube(light - 0.1055613458*a - 0.0638541728*b)
	s := cube(light - 0.0894841775*a - 1.2914855480*b)
	return color.RGBA{
		gamma(4.0767416621*l - 3.3077115913*m + 0.2309699292*s),
		gamma(-1.2684380046*l + 2.6097574011*m - 0.3413193965*s),
		gamma(-0.0041960863*l - 0.7034186147*m + 1.7076147010*s), 255,
	}
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

// topKPa is the pressure at the end of the scale, kPa; higher pressures are drawn the
// same. The scale is the same in every recording, so that the meaning of a colour does
// not change. It is our own choice: in simulated relevés of a dancer of 52 kg most cells
// bear 100 to 500 kPa where the load sits over the box, and up to 1700 where it sits on
// the platform's back edge.
const topKPa = 960

// noiseKPa is the pressure below which a cell is drawn as unloaded, kPa, so that its noise
// does not flicker. It is our own choice: some counts of the strips that are simulated.
const noiseKPa = 5

// ofScale returns the position of a pressure on the scale, 0 to 1. The scale is linear in
// the square root of pressure, so that it also resolves the small loads of a pad press.
func ofScale(kPa float64) float64 {
	if !(kPa >= noiseKPa) {
		return 0
	}
	return math.Sqrt(min(1, kPa/topKPa))
}

// drawScale draws the scale of pressure so that it ends in the column before x: the
// pressure that each of its quarters stands for.
func drawScale(c *canvas, x, y int, colours Colours) {
	const unit = " kPa"
	x -= c.write(x-columns(unit), y, len(unit), quiet, unit)
	for i := len(plainShades) - 1; i >= 0; i-- {
		share := float64(i) / float64(len(plainShades)-1)
		number := fmt.Sprintf("%.0f", share*share*topKPa)
		x -= columns(number)
		c.write(x, y, columns(number), quiet, number)
		x--
		mark := character{char: plainShades[i], fore: pressureColour(share)}
		if colours >= Colours256 {
			mark.char = '█'
		}
		c.set(x, y, mark)
		x--
	}
}

// pressureColour returns the colour of a pressure, given as a share of the end of
// the scale, 0 to 1.
func pressureColour(share float64) colourIndex {
	return pressureScale + colourIndex(math.Round((steps-1)*max(0, min(1, share))))
}

// plainShades are the characters for pressure on a terminal with at most 16 colours, from
// no pressure to the end of the scale.
var plainShades = []rune{'·', '░', '▒', '▓', '█'}

func plainShade(share float64) rune {
	return plainShades[int(math.Round(float64(len(plainShades)-1)*max(0, min(1, share))))]
}
