package check

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"aplomb/analyze"
	"aplomb/analyze/cells"
	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/analyze/sway"
	"aplomb/device"
	"aplomb/device/recording"
)

// Thresholds of findings and of grave findings. They are our own choice.
const (
	hidesS              = 0.5  // missing frames of this length, s, can contain the end of one relevé and the onset of the next
	marginS             = 0.25 // arrival times may be late by this much, s
	clockRatioS         = 10.0 // least span of a recording, s, from which the rate of a clock is determined
	clockRatioTolerance = 0.01 // larger than the error of any oscillator with which a serial line works
	mostRateHz          = 1e4  // more frames a second than a strip sends over a serial line
	jitterShare         = 0.1  // standard deviation ÷ mean of the interval between frames
	coveredPart         = 0.90 // covered share of the platform below which load and contact are unreliable
	maxWeightRatio      = 1.15 // load ÷ the dancer's weight
)

// footCheck collects the data for judging one foot.
type footCheck struct {
	foot   device.Foot
	side   *device.Side
	survey *recording.FootSurvey
	cells  *cells.Monitor
	timing timing
}

// File checks the recording at path. A file that is no recording is an error;
// everything else is a finding. The recording is read up to three times: for its
// survey, for the cells, and by analyze.File. The report's provenance names the
// software.
func File(ctx context.Context, path string, software measure.Software) (*Report, error) {
	s, err := recording.Inspect(ctx, path)
	if err != nil {
		return nil, err
	}
	var result *measure.Result
	if s.Damage == nil && s.StartNS != 0 {
		if result, err = analyze.File(ctx, path, analyze.Options{Software: software}); err != nil {
			return nil, err
		}
	}
	return report(ctx, path, s, result, software)
}

// Measured checks the recording at path as File does, given the result of analyze.File
// for it.
func Measured(ctx context.Context, path string, result *measure.Result) (*Report, error) {
	s, err := recording.Inspect(ctx, path)
	if err != nil {
		return nil, err
	}
	return report(ctx, path, s, result, result.Provenance.Software)
}

// report checks a recording with its survey. result is nil where it cannot be measured.
func report(ctx context.Context, path string, s *recording.Survey, result *measure.Result, software measure.Software) (*Report, error) {
	checks, err := readFrames(ctx, path, s)
	if err != nil {
		return nil, err
	}
	r := &Report{File: filepath.Base(path), Whole: s.Whole(), Findings: []Finding{}}
	r.checkFile(s)
	if result != nil {
		r.Provenance = result.Provenance
		r.checkBothFeet(checks, result)
	} else {
		sum, _, err := provenance.SHA256(ctx, path)
		if err != nil {
			return nil, err
		}
		r.Provenance = provenance.New(software, analyze.Settings(software.Version))
		in := measure.Input{File: r.File, SHA256: sum}
		if s.Correction != nil {
			in.Correction, in.CorrectionSHA256 = filepath.Base(s.Correction.Path), s.Correction.SHA256
		}
		provenance.Add(r.Provenance, in, s.Meta.Sides)
	}
	for _, l := range checks {
		if l != nil {
			r.checkFoot(l, s, result)
		}
	}
	r.Trusted = !slices.ContainsFunc(r.Findings, func(f Finding) bool { return f.Grave })
	return r, nil
}

// readFrames reads the frames of the recording up to its end or to damage.
func readFrames(ctx context.Context, path string, s *recording.Survey) (checks [2]*footCheck, err error) {
	src, err := recording.Open(ctx, path)
	if err != nil {
		return checks, err
	}
	defer src.Close()
	for f, side := range s.Meta.Sides {
		if side != nil {
			checks[f] = &footCheck{foot: device.Foot(f), side: side, survey: s.Feet[f], cells: cells.New(side.Strip, side.Shoe.Outline())}
		}
	}
	ahead := device.ReadAhead(src)
	defer ahead.Close()
	var frame device.Frame
	for {
		if err := ctx.Err(); err != nil {
			return checks, fmt.Errorf("%s: %w", path, err)
		}
		var damage *recording.Damage
		switch err := ahead.Next(&frame); {
		case errors.Is(err, io.EOF) || errors.As(err, &damage):
			for _, l := range checks {
				if l != nil {
					l.cells.End()
				}
			}
			return checks, nil
		case err != nil:
			return checks, fmt.Errorf("%s: %w", path, err)
		}
		l := checks[frame.Foot]
		l.timing.add(&frame)
		l.cells.Add(&frame)
	}
}

// checkFile adds the findings of the file itself.
func (r *Report) checkFile(s *recording.Survey) {
	if s.Correction != nil {
		if said := s.Correction.Summary(s.Recorded); said != "" {
			r.add(Finding{About: "file", Kind: Corrected, Text: "what it says was corrected on " + said, Means: "everything below includes the correction " + filepath.Base(s.Correction.Path)})
		}
	}
	switch {
	case s.Damage != nil:
		r.add(Finding{About: "file", Kind: Damaged, Text: s.Damage.Error(), Means: "analyze refuses it: go back to a copy, or record again", Grave: true})
	case s.Damaged != "":
		lost := slices.ContainsFunc(s.Losses, func(l recording.Loss) bool { return !l.NoMessage })
		means := "copy it again; nothing that is measured is affected"
		if lost {
			means = "copy it again; what has a good checksum is measured, and relevés, discards and pad presses may be missing"
		}
		r.add(Finding{About: "file", Kind: Damaged, Text: s.Damaged, Means: means, Grave: lost})
	}
	if s.Missing != "" {
		means := "what came before can be measured; relevés may be missing at the end"
		if s.StartNS == 0 {
			means = "nothing can be measured"
		}
		r.add(Finding{About: "file", Kind: CutShort, Text: s.Missing, Means: means, Grave: true})
	}
}

// checkBothFeet adds the findings that need both feet or the dancer's mass.
func (r *Report) checkBothFeet(checks [2]*footCheck, result *measure.Result) {
	if swapped(checks, result.Settings.OffOutlineWarn) {
		r.add(Finding{About: "both", Kind: StripsSwapped, Text: "the load lies beside both platforms, and on them were the strips exchanged",
			Means: "left and right seem swapped: no number of this recording can be trusted; where the cables were exchanged, aplomb logbook relabel FILE --swap-feet corrects it", Grave: true})
	}
	mass := result.Meta.MassKG
	if mass <= 0 {
		return
	}
	loads := map[int]float64{}
	for _, one := range result.Releves {
		if one.Hold != nil {
			loads[one.N] += one.LoadN
		}
	}
	sum := 0.0
	for _, load := range loads {
		sum += load
	}
	if n := float64(len(loads)); n > 0 && sum/n > maxWeightRatio*mass*device.StandardGravity {
		r.add(Finding{About: "both", Kind: LoadTooHigh, Text: fmt.Sprintf("the strips read %.0f N where the dancer weighs %.0f N", sum/n, mass*device.StandardGravity),
			Means: "load and pressures are too high: look at the calibration, and at crosstalk; places may be off too", Grave: true})
	}
}

// checkFoot adds the description of one foot and its findings. result is nil
// where the recording was not analyzed.
func (r *Report) checkFoot(l *footCheck, s *recording.Survey, result *measure.Result) {
	f := FootReport{Strip: l.side.Strip.Name, Shoe: l.side.Shoe.Code, Mark: l.side.Mark, Padding: l.side.Padding, Fixing: l.side.Fixing,
		Frames: l.survey.Frames, SpanS: l.survey.SpanS, Covered: l.survey.Covered}
	name := l.foot.String()
	if f.Frames == 0 {
		r.Feet.Set(l.foot, f)
		if s.Damage != nil {
			return // frames may follow the damage
		}
		r.add(Finding{About: name, Kind: NothingReceived, Text: "no frame", Means: "nothing can be measured on this foot, nor left against right", Grave: true})
		return
	}
	if l.survey.Numbered {
		f.Lost = &l.survey.Lost
	}
	if l.survey.RateHz > 0 {
		f.RateHz = &l.survey.RateHz
	}
	if l.timing.interval.n > 1 {
		interval, arrival, wait := l.timing.interval.sd(), l.timing.arrival.sd(), float64(l.timing.longestNS)/1e6
		f.IntervalSDMS, f.ArrivalSDMS, f.LongestWaitMS = &interval, &arrival, &wait
	}
	for _, e := range l.survey.Gaps {
		f.Gaps = append(f.Gaps, Gap{AtS: s.At(e), LengthS: e.LengthS, Cause: e.Cause})
	}
	var measured []measure.Releve
	if result != nil {
		for _, one := range result.Releves {
			if one.Foot == l.foot && one.Hold != nil {
				measured = append(measured, one)
			}
		}
		n := len(measured)
		f.Measured = &n
		if found := result.Seats.Of(l.foot); found != nil {
			f.Seat = seatReport(l.side.Strip, found)
			r.checkPresses(l.foot, result.Presses[l.foot], found, f.Seat)
		}
	}
	if loaded, of := l.cells.LoadedCells(); l.cells.Loads() > 0 {
		f.Felt = &LoadedCells{loaded, of}
	}
	if d, ok := l.cells.ZeroDrift(); ok {
		f.Zero = &ZeroDrift{Counts: d.Counts, LoadN: d.LoadN, ShiftMM: d.ShiftMM, StepN: d.StepN, StepMM: d.StepMM}
	}
	r.Feet.Set(l.foot, f)

	r.checkFrames(l, s, result)
	r.checkClock(l)
	r.checkSeat(l, measured, result)
	r.checkCells(l, len(measured), result)
}

// checkFrames adds findings about missing frames and the relevés that they
// affect, and about counts that no frame of the strip can have.
func (r *Report) checkFrames(l *footCheck, s *recording.Survey, result *measure.Result) {
	name := l.foot.String()
	if !l.survey.Numbered {
		r.add(Finding{About: name, Kind: Unnumbered, Text: "its frames are not numbered", Means: "lost frames cannot be counted: only a pause would show"})
	}
	if n := l.survey.Beyond; n > 0 {
		r.add(Finding{About: name, Kind: BeyondConverter, Text: fmt.Sprintf("%d of %d frames have counts above %d, the range of the %d bits (adc_bits) of strip %s", n, l.survey.Frames, l.side.Strip.MaxCount(), l.side.Strip.ADCBits, l.side.Strip.Name),
			Means: fmt.Sprintf("the profile is of another strip, or the file was changed: no number of the %s foot can be trusted", name), Grave: true})
	}
	if l.survey.Whole() {
		return
	}
	f := Finding{About: name, Kind: FramesMissing}
	switch {
	case l.survey.Lost == 1:
		f.Text = "1 frame is missing"
	case l.survey.Lost > 0:
		f.Text = fmt.Sprintf("%d frames are missing", l.survey.Lost)
	case l.survey.Paused():
		f.Text = fmt.Sprintf("a pause of %.3f s: frames seem to be missing", l.survey.LongestS)
	default:
		f.Text = "frames are missing"
	}
	spans := l.timing.missingSpans
	for _, e := range l.survey.Gaps {
		spans = append(spans, missingSpan{e.TimeNS - int64(1e9*e.LengthS), e.TimeNS})
	}
	longest := 0.0
	for _, h := range spans {
		longest = max(longest, float64(h.to-h.from)/1e9)
	}
	var hit []string
	if result != nil {
		for _, one := range result.Releves {
			if one.Foot == l.foot && inMissingSpan(one, spans, s.StartNS) {
				hit = append(hit, strconv.Itoa(one.N))
			}
		}
	}
	var means []string
	if len(hit) > 0 {
		means = append(means, fmt.Sprintf("relevé %s of the %s foot: sway and times cannot be trusted", strings.Join(hit, ", "), name))
	}
	if longest >= hidesS {
		means = append(means, fmt.Sprintf("%.1f s at once: a relevé of the %s foot may be missing", longest, name))
	}
	f.Grave = len(means) > 0
	f.Means = strings.Join(means, "; ")
	if f.Means == "" {
		f.Means = "no relevé misses them"
	}
	r.add(f)
}

// inMissingSpan reports whether frames are missing in a relevé.
func inMissingSpan(one measure.Releve, spans []missingSpan, startNS int64) bool {
	from, to := startNS+int64(1e9*(one.StartS-marginS)), startNS+int64(1e9*(one.EndS+marginS))
	return slices.ContainsFunc(spans, func(h missingSpan) bool { return h.to >= from && h.from <= to })
}

// checkClock adds findings about the clock of the strip and the rate of its
// frames.
func (r *Report) checkClock(l *footCheck) {
	name := l.foot.String()
	add := func(kind Kind, text, means string, grave bool) {
		r.add(Finding{About: name, Kind: kind, Text: text, Means: means, Grave: grave})
	}
	if l.side.Clock == "host" {
		add(NoClock, "the strip sends no clock", "times are those of arrival: sway and times are rough", false)
	} else if ratio, ok := l.timing.clockRatio(); ok && (ratio < 1-clockRatioTolerance || ratio > 1+clockRatioTolerance) {
		add(ClockWrong, fmt.Sprintf("the strip's clock counts %.3f s in a second", ratio), fmt.Sprintf("times and speeds of the %s foot cannot be trusted", name), true)
	}
	if n := l.timing.backwards; n > 0 {
		add(ClockWrong, fmt.Sprintf("the strip's clock goes back, %d times", n), fmt.Sprintf("times and speeds of the %s foot cannot be trusted", name), true)
	}
	if i := &l.timing.interval; i.n > 1 && i.sd() > jitterShare*i.mean && l.side.Clock != "host" {
		add(UnevenFrames, fmt.Sprintf("frames come every %.2f ± %.2f ms by the strip's own clock", i.mean, i.sd()), "sway is smoothed as if they were evenly apart: it is rough", false)
	}
	if l.survey.RateHz > mostRateHz {
		add(ClockWrong, fmt.Sprintf("%.0f frames a second", l.survey.RateHz), fmt.Sprintf("times and speeds of the %s foot cannot be trusted: no strip sends so many; are its times in microseconds?", name), true)
	}
	if least := 2.01 * sway.LowPassHz; l.survey.RateHz > 0 && l.survey.RateHz < least {
		add(RateTooLow, fmt.Sprintf("%.1f frames a second", l.survey.RateHz), fmt.Sprintf("sway takes %.0f or more: there is none", least), false)
	}
}

// checkSeat adds findings about the position of the strip under the platform.
// measured are the measured relevés of the foot.
func (r *Report) checkSeat(l *footCheck, measured []measure.Releve, result *measure.Result) {
	name := l.foot.String()
	if l.survey.Partial() {
		f := Finding{About: name, Kind: PartlyCovered, Text: fmt.Sprintf("the strip covers %.0f %% of the platform", 100*l.survey.Covered),
			Means: "load beside it is not measured: load and contact read low"}
		if f.Grave = l.survey.Covered < coveredPart; f.Grave {
			f.Means += fmt.Sprintf(", and over and medial of the %s foot cannot be trusted", name)
		}
		r.add(f)
	}
	off, most := 0, 0.0
	for _, one := range measured {
		if one.OffOutlineShare > result.Settings.OffOutlineWarn {
			off++
		}
		most = max(most, one.OffOutlineShare)
	}
	if off > 0 {
		r.add(Finding{About: name, Kind: OffOutline, Text: fmt.Sprintf("up to %.0f %% of the load is beside the platform, in %d of %d relevés", 100*most, off, len(measured)),
			Means: fmt.Sprintf("strip or outline is misplaced: over, medial and contact share of the %s foot cannot be trusted", name), Grave: true})
	}
}

// swapped reports whether the load of both feet lies outside the platform, and would lie
// inside if the strips were exchanged. Platforms of the same shape cannot be
// distinguished in this way.
func swapped(checks [2]*footCheck, warn float64) bool {
	a, b := checks[device.Left], checks[device.Right]
	if a == nil || b == nil || a.cells.Loads() == 0 || b.cells.Loads() == 0 || a.side.Strip.Cells() != b.side.Strip.Cells() {
		return false
	}
	sure := warn / 3
	return shareOffOutline(a.cells, a.cells.Map()) > warn && shareOffOutline(b.cells, b.cells.Map()) > warn &&
		shareOffOutline(b.cells, a.cells.Map()) < sure && shareOffOutline(a.cells, b.cells.Map()) < sure
}

// shareOffOutline returns the share of a map, in scan order, that lies outside
// the outline of a Monitor.
func shareOffOutline(w *cells.Monitor, pressure []float64) float64 {
	off, all := 0.0, 0.0
	for k, p := range pressure {
		all += max(0, p)
		if w.Inside(w.At(k)) == 0 {
			off += max(0, p)
		}
	}
	return off / cmp.Or(all, 1)
}
