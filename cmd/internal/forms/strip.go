package forms

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"

	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/device/wire"
)

// guessedFullKPa is the pressure at the largest count of a strip with unknown scale, kPa.
// It is a guess: that of the profile on the page about the firmware.
const guessedFullKPa = 0.75 * 4096

// The words of a profile for the first cell that is sent, and for the order of cells.
var (
	firstCells = []string{"back-lateral", "back-medial", "front-lateral", "front-medial"}
	scans      = []string{"rows", "columns", "serpentine"}
)

// Strip is the form of a strip's profile.
type Strip struct {
	Form[device.Strip]
	Unit text.Unit // of lengths without one
}

// NewStrip returns the form of a strip.
func NewStrip() *Strip {
	f := &Strip{Unit: "mm"}
	feet := []string{device.Left.String(), device.Right.String()}
	f.add("foot", "`FOOT` that it is for: "+strings.Join(feet, ", "), feet, func(s *device.Strip, v string) (err error) {
		s.Foot, err = device.ParseFoot(v)
		return err
	})
	f.add("grid", "`ROWSxCOLUMNS` of cells, such as 5x8: rows from the back to the front, columns from the little toe to the big toe", nil, func(s *device.Strip, v string) (err error) {
		rows, cols, found := strings.Cut(strings.NewReplacer("×", "x", " ", "").Replace(v), "x")
		if !found {
			return fmt.Errorf("%.40q is no number of rows and columns: write them as 5x8", v)
		}
		if s.Rows, err = text.ParseWhole(rows); err == nil {
			s.Cols, err = text.ParseWhole(cols)
		}
		return err
	})
	f.size("pitch", "`ACROSSxALONG` from cell to cell, such as 5x5: from little toe to big toe, and from back to front", func(s *device.Strip) *[2]float64 { return &s.PitchMM })
	f.size("cell", "`ACROSSxALONG` of the part of a cell that senses; default the pitch", func(s *device.Strip) *[2]float64 { return &s.CellMM })
	f.whole("bits", "`BITS` of its converter", func(s *device.Strip) *int { return &s.ADCBits })
	f.whole("saturates-at", "`COUNTS` that a cell reads at most; default the largest of the bits", func(s *device.Strip) *int { return &s.SaturatesAt })
	f.word("first-cell", "`CORNER` of the cell that is sent first; default back-lateral", firstCells, func(s *device.Strip) *string { return &s.FirstCell })
	f.word("scan", "`ORDER` in which cells are sent; default rows", scans, func(s *device.Strip) *string { return &s.Scan })
	f.word("tail", "`SIDE` at which its tail leaves", device.TailSides[:], func(s *device.Strip) *string { return &s.Mount.TailSide })
	f.number("kpa-per-count", "`KPA` of one count, by the data sheet; default a guess, until it is calibrated", func(s *device.Strip) *float64 { return &s.Calibration.KPaPerCount })
	return f
}

// size adds a field that takes two lengths, mm.
func (f *Strip) size(name, usage string, of func(*device.Strip) *[2]float64) {
	f.add(name, usage, nil, func(s *device.Strip, v string) (err error) {
		*of(s) = [2]float64{}
		if v != "" {
			*of(s), err = device.ParseSize(v, string(f.Unit))
		}
		return err
	})
}

// Hear sets the fields in a strip's hello that were not typed.
func (f *Strip) Hear(h *wire.Hello) {
	f.Preset("foot", h.Foot.String())
	f.Preset("grid", fmt.Sprintf("%dx%d", h.Rows, h.Cols))
	f.Preset("bits", strconv.Itoa(h.ADCBits))
}

// Missing returns the name of a required field that was not typed, "" where there is
// none.
func (f *Strip) Missing() string {
	for _, name := range []string{"foot", "grid", "pitch", "bits"} {
		if !f.Has(name) {
			return name
		}
	}
	return ""
}

// Complete sets the defaults of a strip's missing fields.
func (f *Strip) Complete(s *device.Strip) {
	if s.CellMM == [2]float64{} {
		s.CellMM = s.PitchMM
	}
	if s.ADCBits > 0 && s.ADCBits <= 16 {
		full := math.Exp2(float64(s.ADCBits))
		if s.SaturatesAt == 0 {
			s.SaturatesAt = int(full) - 1
		}
		if s.Calibration.KPaPerCount == 0 {
			s.Calibration.KPaPerCount = guessedFullKPa / full
		}
	}
	if s.FirstCell == "" {
		s.FirstCell = "back-lateral"
	}
	if s.Scan == "" {
		s.Scan = "rows"
	}
}

// BlankStrip returns the profile of a strip of which only the name is known.
func BlankStrip(name string) device.Strip {
	return device.Strip{
		Name: name, Foot: device.NoFoot,
		Mount:       device.Mount{SeatSDMM: device.DefaultSeatSDMM},
		Calibration: device.Calibration{GainSD: device.DefaultGainSD},
	}
}

// questions returns the questions about a strip in the order in which they are asked.
func (f *Strip) questions() []question[device.Strip] {
	type strip = device.Strip
	whole := func(asks, field string, needed bool, of func(*strip) *int) question[strip] {
		return question[strip]{asks: asks, field: field, needed: needed,
			is: func(s *strip) string {
				if *of(s) == 0 {
					return ""
				}
				return strconv.Itoa(*of(s))
			},
			set: func(s *strip, v string) (err error) { *of(s), err = text.ParseWhole(v); return err },
		}
	}
	pitch := func(asks string, k int) question[strip] {
		return question[strip]{asks: asks, field: "pitch", needed: true,
			is: func(s *strip) string { return f.Unit.Length(s.PitchMM[k]) },
			set: func(s *strip, v string) (err error) {
				s.PitchMM[k], err = device.ParseLength(v, string(f.Unit))
				return err
			},
		}
	}
	word := func(asks, field string, words []string, of func(*strip) string) question[strip] {
		return question[strip]{asks: asks + " (" + strings.Join(words, ", ") + ")", field: field, words: words, is: of}
	}
	foot := word("foot", "foot", f.Fields[0].Words, func(s *strip) string {
		if s.Foot == device.NoFoot {
			return ""
		}
		return s.Foot.String()
	})
	foot.needed = true
	return []question[strip]{
		foot,
		whole("rows of cells, from the back of the platform to the front", "grid", true, func(s *strip) *int { return &s.Rows }),
		whole("columns of cells, from the little toe to the big toe", "grid", true, func(s *strip) *int { return &s.Cols }),
		pitch("pitch: from one column to the next, middle to middle", 0),
		pitch("pitch: from one row to the next", 1),
		{asks: "the part of a cell that senses, such as 4.5x4.5, if less than the pitch", field: "cell", is: func(s *strip) string {
			if s.CellMM == [2]float64{} {
				return ""
			}
			return f.Unit.Size(s.CellMM)
		}},
		whole("bits of the converter", "bits", true, func(s *strip) *int { return &s.ADCBits }),
		word("the cell that is sent first", "first-cell", firstCells, func(s *strip) string { return s.FirstCell }),
		word("the order of cells", "scan", scans, func(s *strip) string { return s.Scan }),
		word("the side at which its tail leaves", "tail", device.TailSides[:], func(s *strip) string { return s.Mount.TailSide }),
		{asks: "kPa of one count, by the data sheet, if you know it", field: "kpa-per-count", is: func(s *strip) string { return numberOf(s.Calibration.KPaPerCount) }},
	}
}

// numberOf writes a number as it was typed, "" for 0.
func numberOf(v float64) string {
	if v == 0 {
		return ""
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}

// Ask asks the user for the description of a strip until the user confirms it. Fields
// given by flags, or by the strip's hello, are skipped.
func (f *Strip) Ask(a *console.Person, s *device.Strip) error {
	fmt.Fprintf(a.Out, "Strip %s. "+howToAnswer, text.Plain(s.Name), f.Unit)
	v := interview[device.Strip]{
		form: &f.Form, questions: f.questions(), check: f.check,
		doubts: func(s *device.Strip) []device.Doubt { return s.Doubts() },
		swap:   func(s *device.Strip) { s.Rows, s.Cols = s.Cols, s.Rows },
		show: func(s *device.Strip) {
			whole := *s
			f.Complete(&whole)
			text.Facts(a.Out, output.StripFacts(&whole)...)
			output.Doubts(a.Out, s.Doubts())
		},
	}
	return v.ask(a, s)
}

// check returns an error where a value is not possible for a strip. Others may still be
// unknown.
func (f *Strip) check(s device.Strip) error {
	if s.Foot == device.NoFoot {
		s.Foot = device.Left // any possible values
	}
	for _, n := range []*int{&s.Rows, &s.Cols} {
		if *n == 0 {
			*n = 1
		}
	}
	for k := range s.PitchMM {
		if s.PitchMM[k] == 0 {
			s.PitchMM[k] = max(1, s.CellMM[k])
		}
	}
	if s.ADCBits == 0 {
		s.ADCBits = 16
	}
	f.Complete(&s)
	return reason(cmp.Or(s.Check(), s.CheckTyped()))
}
