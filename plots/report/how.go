package report

import (
	"strconv"

	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/words"
)

// stripLine is one strip, as its profile describes it.
type stripLine struct {
	device.Strip
	SeatAssumed bool
	SeatDOF     string
	Calibrated  string
}

// strips returns every strip profile of the recordings once.
func strips(results []*measure.Result) []stripLine {
	var out []stripLine
	seen := map[string]bool{}
	for _, r := range results {
		for _, side := range r.Meta.Sides {
			if side == nil || side.Strip == nil {
				continue
			}
			if profile := device.TOML(side.Strip); !seen[profile] {
				seen[profile] = true
				out = append(out, stripLine{*side.Strip, side.Strip.Mount.SeatMountings == 0,
					strconv.FormatFloat(side.Strip.Mount.SeatDOF(), 'f', -1, 64), calibrationText(&side.Strip.Calibration)})
			}
		}
	}
	return out
}

// seats returns, for every recording and foot, the seat of the strip in words, and a last
// line about the accuracy gained by estimating the seats.
func seats(results []*measure.Result) []string {
	var out []string
	for _, r := range results {
		for _, f := range device.Feet {
			if s, side := r.Seats.Of(f), r.Meta.Sides[f]; s != nil && side != nil {
				out = append(out, say("lab seat", r.Recording.File, footName(f), side.Strip.Name, words.Seat(s, side.Strip.Mount)))
			}
		}
	}
	if worth := words.SeatWorth(results); worth != "" {
		out = append(out, worth)
	}
	return out
}

// shoeLine is one shoe in words.
type shoeLine struct{ Code, Facts string }

// shoes returns every shoe of the recordings once.
func shoes(d Data) []shoeLine {
	var out []shoeLine
	seen := map[string]bool{}
	for _, r := range d.Results {
		for _, side := range r.Meta.Sides {
			if side == nil || side.Shoe == nil {
				continue
			}
			if profile := device.TOML(side.Worn()); !seen[profile] {
				seen[profile] = true
				out = append(out, shoeLine{side.Shoe.Code, fullDescription(*side.Worn(), d.Inches)})
			}
		}
	}
	return out
}

// recordingLine is one recording with the hash of its file.
type recordingLine struct {
	File, Started, Software, Conditions, ID, SHA256 string
	Feet                                            []recordedFoot
}

type recordedFoot struct {
	Foot, Shoe, Strip, Mounting, Mark, Padding, Fixing, Clock, Format, Lost, Rate, Span, Covered string
	Frames                                                                                       int
}

func recordings(d Data) []recordingLine {
	var out []recordingLine
	for _, r := range d.Results {
		line := recordingLine{File: r.Recording.File, Software: r.Meta.Software}
		if p := r.Provenance; p != nil && len(p.Inputs) == 1 {
			line.ID, line.SHA256 = p.Inputs[0].ID, p.Inputs[0].SHA256
		}
		if !r.Meta.Started.IsZero() {
			line.Started = r.Meta.Started.UTC().Format("2006-01-02 15:04 UTC")
		}
		mass := ""
		if r.Meta.MassKG > 0 {
			mass = say("kg", words.Number(r.Meta.MassKG, 1))
		}
		line.Conditions = joined(labelled("support", r.Meta.Support), labelled("rise", r.Meta.Rise),
			labelled("position", r.Meta.Position), labelled("floor", r.Meta.Floor), labelled("feedback", r.Meta.Feedback),
			labelled("mass", mass))
		for _, foot := range device.Feet {
			if side, log := r.Meta.Sides[foot], r.Recording.Feet.Of(foot); side != nil && log != nil {
				line.Feet = append(line.Feet, newRecordedFoot(foot, r, log))
			}
		}
		out = append(out, line)
	}
	return out
}

func newRecordedFoot(foot device.Foot, r *measure.Result, log *measure.FootLog) recordedFoot {
	side := r.Meta.Sides[foot]
	f := recordedFoot{
		Foot: footName(foot), Mounting: side.Mounting, Padding: side.Padding, Fixing: side.Fixing, Clock: side.Clock, Format: side.Format, Frames: log.Frames,
		Lost: say("lab lost unknown"), Rate: words.Number(log.RateHz, 0), Span: words.Number(log.SpanS, 1),
	}
	if log.Lost != nil {
		f.Lost = strconv.FormatInt(*log.Lost, 10)
	}
	if side.Mark != 0 {
		f.Mark = strconv.Itoa(side.Mark)
	}
	if side.Shoe != nil {
		f.Shoe = side.Shoe.Code
	}
	if side.Strip != nil {
		f.Strip = side.Strip.Name
	}
	if p := r.Platforms.Of(foot); p != nil {
		f.Covered = say("percent", words.Number(100*p.Covered, 0))
	}
	return f
}

// labelled returns the text of a key with a value. It is empty where the value is.
func labelled(key, value string) string {
	if value == "" {
		return ""
	}
	return say(key, value)
}
