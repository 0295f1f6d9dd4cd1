package dataset

import (
	"time"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/analyze/scale"
	"aplomb/device"
)

var shoeLayout = layout[*device.Shoe]{
	name:       "shoes",
	definition: "One row a shoe by content. A shoe that was described anew, as after hours of wear, is another row with the same code.",
	key:        []string{"shoe_sha256"},
	columns: []column[*device.Shoe]{
		{shoeField, func(s *device.Shoe) any { return ContentOf(s) }},
		{Field{Name: "shoe", Type: Text, Definition: "code of the shoe"}, func(s *device.Shoe) any { return s.Code }},
		{Field{Name: "file", Type: Text, Definition: "path of the profile in the package"}, func(s *device.Shoe) any { return ShoeFile(ContentOf(s)) }},
		{Field{Name: "width_mm", Type: Number, Unit: "mm", Definition: "width of the platform by the ruler, from side to side"}, func(s *device.Shoe) any { return finite(s.Size()[0]) }},
		{Field{Name: "depth_mm", Type: Number, Unit: "mm", Definition: "depth of the platform by the ruler, from back to front"}, func(s *device.Shoe) any { return finite(s.Size()[1]) }},
		{Field{Name: "area_mm2", Type: Number, Unit: "mm²", Definition: "area of the platform by the ruler"}, func(s *device.Shoe) any { return finite(s.Outline().Area()) }},
		{Field{Name: "outline_exponent", Type: Number, Definition: "exponent of the superellipse of the outline: 2 is an oval, 20 nearly a rectangle", Absent: "the outline is given by points"}, func(s *device.Shoe) any { return positive(s.OutlineExponent) }},
		{Field{Name: "box", Type: Text, Definition: "shape of the box", Values: device.Boxes[:], Absent: notGiven}, func(s *device.Shoe) any { return givenText(s.Box) }},
		{Field{Name: "crown_mm", Type: Number, Unit: "mm", Definition: "height of the crown", Absent: notGiven}, func(s *device.Shoe) any { return positive(s.CrownMM) }},
		{Field{Name: "shank", Type: Text, Definition: "stiffness of the shank", Values: device.Shanks[:], Absent: notGiven}, func(s *device.Shoe) any { return givenText(s.Shank) }},
		{Field{Name: "shank_length", Type: Text, Definition: "length of the shank", Values: device.ShankLengths[:], Absent: notGiven}, func(s *device.Shoe) any { return givenText(s.ShankLength) }},
		{Field{Name: "vamp_mm", Type: Number, Unit: "mm", Definition: "length of the vamp, from the front of the platform to the throat", Absent: notGiven}, func(s *device.Shoe) any { return positive(s.VampMM) }},
		{Field{Name: "wings_mm", Type: Number, Unit: "mm", Definition: "height of the wings, from the platform", Absent: notGiven}, func(s *device.Shoe) any { return positive(s.WingsMM) }},
		{Field{Name: "padding", Type: Text, Definition: "what is between foot and shoe", Absent: notGiven}, func(s *device.Shoe) any { return givenText(s.Padding) }},
		{Field{Name: "hours_worn", Type: Number, Unit: "h", Definition: "hours that the shoe was worn before"}, func(s *device.Shoe) any { return finite(s.HoursWorn) }},
	},
}

var stripLayout = layout[*device.Strip]{
	name:       "strips",
	definition: "One row a strip by content. The profile has its calibration cell by cell.",
	key:        []string{"strip_sha256"},
	columns: []column[*device.Strip]{
		{stripField, func(s *device.Strip) any { return ContentOf(s) }},
		{Field{Name: "strip", Type: Text, Definition: "name of the strip"}, func(s *device.Strip) any { return s.Name }},
		{Field{Name: "file", Type: Text, Definition: "path of the profile in the package"}, func(s *device.Strip) any { return StripFile(ContentOf(s)) }},
		{footField, func(s *device.Strip) any { return s.Foot.String() }},
		{Field{Name: "rows", Type: Integer, Definition: "rows of cells, from the back of the platform to the front"}, func(s *device.Strip) any { return int64(s.Rows) }},
		{Field{Name: "columns", Type: Integer, Definition: "columns of cells, from the little-toe side to the big-toe side"}, func(s *device.Strip) any { return int64(s.Cols) }},
		{Field{Name: "pitch_medial_mm", Type: Number, Unit: "mm", Definition: "distance of the columns"}, func(s *device.Strip) any { return finite(s.PitchMM[0]) }},
		{Field{Name: "pitch_over_mm", Type: Number, Unit: "mm", Definition: "distance of the rows"}, func(s *device.Strip) any { return finite(s.PitchMM[1]) }},
		{Field{Name: "gain_sd", Type: Number, Definition: "relative standard deviation of the gains that remains from cell to cell"}, func(s *device.Strip) any { return finite(s.Calibration.GainSD) }},
		{Field{Name: "seat_sd_mm", Type: Number, Unit: "mm", Definition: "standard deviation of one mounting, each axis, by the profile"}, func(s *device.Strip) any { return finite(s.Mount.SeatSDMM) }},
		{Field{Name: "seat_mountings", Type: Integer, Definition: "mountings that seat_sd_mm was measured in", Absent: "seat_sd_mm is assumed"}, func(s *device.Strip) any { return counted(s.Mount.SeatMountings) }},
		{Field{Name: "calibrated", Type: Day, Definition: "day of the calibration", Absent: notGiven}, func(s *device.Strip) any { return givenText(s.Calibration.Date.String()) }},
	},
}

// mount is one mounting: its first recording, and the number of its recordings.
type mount struct {
	foot
	recordings int
}

// calibrationAge returns the age of the calibration on the day of the visit in days, nil
// where a day is not known.
func (m mount) calibrationAge() any {
	visit, err := time.Parse(time.DateOnly, m.unit.Day)
	made, e := time.Parse(time.DateOnly, m.side.Strip.Calibration.Date.String())
	if err != nil || e != nil {
		return nil
	}
	return int64(visit.Sub(made) / (24 * time.Hour))
}

func (s *Source) mountings() []mount {
	var all []mount
	at := map[string]int{}
	for _, f := range s.feet() {
		i, ok := at[f.mounting]
		if !ok {
			i, at[f.mounting] = len(all), len(all)
			all = append(all, mount{foot: f})
		}
		all[i].recordings++
	}
	return all
}

var evidence = words(measure.EvidencePress, measure.EvidenceHolds, measure.EvidenceAssumed)

var mountingLayout = layout[mount]{
	name:       "mountings",
	definition: "One row a mounting of a strip under a shoe.",
	key:        []string{"mounting"},
	references: []Reference{toShoe, toStrip, toVisit},
	columns: []column[mount]{
		{mountingField, func(m mount) any { return m.mounting }},
		{dancerField, func(m mount) any { return givenText(m.unit.Dancer) }},
		{visitField, func(m mount) any { return m.unit.Visit }},
		{footField, func(m mount) any { return m.foot.foot.String() }},
		{shoeField, func(m mount) any { return ContentOf(m.side.Shoe) }},
		{stripField, func(m mount) any { return ContentOf(m.side.Strip) }},
		{Field{Name: "mark", Type: Integer, Definition: "which physical shoe of the pair: 1 or 2", Absent: notGiven}, func(m mount) any { return counted(m.side.Mark) }},
		{Field{Name: "name", Type: Text, Definition: "name of the mounting in its recordings", Absent: "nothing says that another recording is of the same mounting"}, func(m mount) any { return givenText(m.side.Mounting) }},
		{Field{Name: "calibration_age_days", Type: Integer, Unit: "d", Definition: "age of the calibration of the strip on the day of the visit; below 0 where it was made later", Absent: "its day is not known"}, func(m mount) any { return m.calibrationAge() }},
		{Field{Name: "recordings", Type: Integer, Definition: "recordings in this mounting"}, func(m mount) any { return int64(m.recordings) }},
	},
}

var seatLayout = layout[foot]{
	name:       "seats",
	definition: "One row a recording and foot: where the strip lies under the platform, and the bearing outline of the shoe. Recordings of one mounting each have a seat of their own.",
	key:        []string{"recording", "foot"},
	references: []Reference{toRecording, toMounting},
	columns:    seatColumns(),
}

func seatColumns() []column[foot] {
	all := []column[foot]{
		{recordingField, func(f foot) any { return f.rec.ID }},
		{footField, func(f foot) any { return f.foot.String() }},
		{mountingField, func(f foot) any { return f.mounting }},
		seated("evidence", Text, "what the seat was found from: pad presses, holds, or assumed from the strip's profile", func(s *measure.Seat) any { return string(s.Evidence) }, evidence...),
		seated("holds", Integer, "holds that the seat was found from", func(s *measure.Seat) any { return int64(s.Holds) }),
		seated("press_maps", Integer, "maps of pad presses that the seat was found from", func(s *measure.Seat) any { return int64(s.Presses) }),
	}
	for _, e := range []struct {
		name, unit, definition, positive string
		of                               func(*measure.Seat) *measure.Estimate
	}{
		{"seat_medial_mm", "mm", "place of the strip's centre from the platform's centroid, from side to side", "towards the big toe", func(s *measure.Seat) *measure.Estimate { return &s.Medial }},
		{"seat_over_mm", "mm", "place of the strip's centre from the platform's centroid, from back to front", "towards the front", func(s *measure.Seat) *measure.Estimate { return &s.Over }},
		{"seat_rotation_deg", "°", "turn of the strip against the platform", "from the big-toe side towards the front", func(s *measure.Seat) *measure.Estimate { return &s.Rotation }},
		{"half_width_mm", "mm", "bearing outline: growth of half the width of the ruler's outline", "wider", outlined(func(o *measure.BearingOutline) *measure.Estimate { return &o.HalfWidth })},
		{"half_depth_mm", "mm", "bearing outline: growth of half the depth of the ruler's outline", "deeper", outlined(func(o *measure.BearingOutline) *measure.Estimate { return &o.HalfDepth })},
		{"front_radius_mm", "mm", "bearing outline: radius of the front edge", "", outlined(func(o *measure.BearingOutline) *measure.Estimate { return &o.FrontRadius })},
		{"back_radius_mm", "mm", "bearing outline: radius of the back edge", "", outlined(func(o *measure.BearingOutline) *measure.Estimate { return &o.BackRadius })},
	} {
		value := seated(e.name, Number, e.definition, func(s *measure.Seat) any {
			if one := e.of(s); one != nil {
				return finite(one.Value)
			}
			return nil
		})
		value.Unit, value.Positive = e.unit, e.positive
		u := seated("u_"+e.name, Number, "standard uncertainty of "+e.name, func(s *measure.Seat) any {
			if one := e.of(s); one != nil {
				return finite(one.U)
			}
			return nil
		})
		u.Unit = e.unit
		if e.of(&measure.Seat{}) == nil {
			value.Absent, u.Absent = assumedSeat, assumedSeat
		}
		all = append(all, value, u)
	}
	return all
}

const assumedSeat = "the seat is assumed"

// outlined returns the function that reads an estimate from the bearing outline of a
// seat; it returns nil where there is none.
func outlined(of func(*measure.BearingOutline) *measure.Estimate) func(*measure.Seat) *measure.Estimate {
	return func(s *measure.Seat) *measure.Estimate {
		if s.Outline == nil {
			return nil
		}
		return of(s.Outline)
	}
}

// seated returns the column of a value of the seat.
func seated(name string, t Type, definition string, of func(*measure.Seat) any, values ...string) column[foot] {
	return column[foot]{Field{Name: name, Type: t, Definition: definition, Values: values}, func(f foot) any {
		if seat := f.rec.Result.Seats.Of(f.foot); seat != nil {
			return of(seat)
		}
		return nil
	}}
}

// difference is one row of the comparisons: a difference between shoes, or between feet.
type difference struct {
	unit             *Unit
	conditions       measure.Conditions
	shoes            [2]string // from, to
	feet             [2]device.Foot
	n, mountings     [2]int
	mean             [2]float64
	measure          measure.Measure
	difference, u    float64
	dof, p, pAmended *float64
	ci95             *[2]float64
	wording          compare.Wording
}

func (s *Source) differences() []difference {
	var all []difference
	for i := range s.Units {
		u := &s.Units[i]
		if u.Comparison == nil {
			continue
		}
		for _, d := range u.Comparison.Differences {
			all = append(all, difference{
				unit: u, conditions: d.Conditions, shoes: [2]string{d.From, d.To}, feet: [2]device.Foot{d.Foot, d.Foot}, n: [2]int{d.NFrom, d.NTo},
				mountings: [2]int{d.MountingsFrom, d.MountingsTo}, mean: [2]float64{d.MeanFrom, d.MeanTo}, measure: d.Measure,
				difference: d.Difference, u: d.U, dof: d.DOF, p: d.P, pAmended: d.PHolm, ci95: d.CI95, wording: d.Wording,
			})
		}
		for _, d := range u.Comparison.Feet {
			all = append(all, difference{
				unit: u, conditions: d.Conditions, shoes: [2]string{d.Shoe, d.Shoe}, feet: [2]device.Foot{device.Right, device.Left}, n: [2]int{d.N, d.N},
				mean: [2]float64{d.Right, d.Left}, measure: d.Measure, difference: d.Difference, u: d.U, dof: d.DOF, ci95: d.CI95, wording: d.Wording,
			})
		}
	}
	return all
}

var comparisonLayout = layout[difference]{
	name:       "comparisons",
	definition: "One row a difference of a measure within a visit: between two shoes on one foot, or between the feet in one shoe (left less right). The other shoes are set against the shoe of the first recording.",
	key:        []string{"dancer", "visit", "shoe_from", "foot_from", "shoe_to", "foot_to", "measure", "support", "rise", "position", "floor", "fixing", "feedback"},
	references: []Reference{toVisit},
	columns:    comparisonColumns(),
}

func comparisonColumns() []column[difference] {
	all := []column[difference]{
		{dancerField, func(d difference) any { return givenText(d.unit.Dancer) }},
		{visitField, func(d difference) any { return d.unit.Visit }},
	}
	for i, side := range [2]string{"from", "to"} {
		foot := footField
		foot.Name = "foot_" + side
		all = append(all,
			column[difference]{Field{Name: "shoe_" + side, Type: Text, Definition: "code of a shoe, with #1, #2 where one code has several descriptions"}, func(d difference) any { return d.shoes[i] }},
			column[difference]{foot, func(d difference) any { return d.feet[i].String() }},
		)
	}
	all = append(all, conditions(func(d difference) measure.Conditions { return d.conditions })...)
	all = append(all,
		column[difference]{Field{Name: "measure", Type: Text, Definition: "symbol of the measure, which the table releves has as a column with its definition", Values: symbols()}, func(d difference) any { return d.measure.Symbol() }},
		column[difference]{Field{Name: "unit", Type: Text, Definition: "unit of means, difference, interval and u", Absent: "it is a plain number"}, func(d difference) any { return givenText(d.measure.Describe().Unit) }},
	)
	for i, side := range [2]string{"from", "to"} {
		all = append(all,
			column[difference]{Field{Name: "n_" + side, Type: Integer, Definition: "relevés"}, func(d difference) any { return int64(d.n[i]) }},
			column[difference]{Field{Name: "mountings_" + side, Type: Integer, Definition: "mountings", Absent: "the difference is between feet"}, func(d difference) any { return counted(d.mountings[i]) }},
			column[difference]{Field{Name: "mean_" + side, Type: Number, Definition: "mean of the relevés, in unit"}, func(d difference) any { return finite(d.mean[i]) }},
		)
	}
	return append(all,
		column[difference]{Field{Name: "difference", Type: Number, Definition: "mean_to less mean_from, in unit"}, func(d difference) any { return finite(d.difference) }},
		column[difference]{Field{Name: "u", Type: Number, Definition: "standard uncertainty of difference, seat and mounting effect included, in unit", Absent: "the scatter is not known"}, func(d difference) any { return finite(d.u) }},
		column[difference]{Field{Name: "dof", Type: Number, Definition: "degrees of freedom of u", Absent: "they are unlimited or not known"}, func(d difference) any { return number(d.dof) }},
		column[difference]{Field{Name: "ci95_low", Type: Number, Definition: "lower end of the 95 % interval, in unit", Absent: "a single relevé leaves the scatter unknown"}, func(d difference) any { return end(d.ci95, 0) }},
		column[difference]{Field{Name: "ci95_high", Type: Number, Definition: "upper end of the 95 % interval, in unit", Absent: "a single relevé leaves the scatter unknown"}, func(d difference) any { return end(d.ci95, 1) }},
		column[difference]{Field{Name: "p", Type: Number, Definition: "p-value of the two-sided t-test with u and dof", Absent: "the measure is exploratory, is not judged here, or the difference is between feet"}, func(d difference) any { return number(d.p) }},
		column[difference]{Field{Name: "p_holm", Type: Number, Definition: "p adjusted by Holm's procedure: of over over feet and pairs of shoes, of the other declared measures over measures, feet and pairs", Absent: "p is absent"}, func(d difference) any { return number(d.pAmended) }},
		column[difference]{Field{Name: "wording", Type: Text, Definition: "what may be said of the difference", Values: words(compare.Clear, compare.WithinMounting, compare.CouldBeChance), Absent: "the measure is exploratory, or is not judged here"}, func(d difference) any { return givenText(string(d.wording)) }},
	)
}

// checkRow is one check of a strip, with its running number.
type checkRow struct {
	n int
	scale.Check
}

func (s *Source) checkRows() []checkRow {
	var all []checkRow
	for i, c := range s.Checks {
		all = append(all, checkRow{i + 1, c})
	}
	return all
}

var checkLayout = layout[checkRow]{
	name:       "checks",
	definition: "One row a check of a strip with known weights. Comparisons judge load only where the checks do not show that a scale moved.",
	key:        []string{"check"},
	columns: []column[checkRow]{
		{Field{Name: "check", Type: Integer, Definition: "number of the check, from 1"}, func(c checkRow) any { return int64(c.n) }},
		{Field{Name: "strip", Type: Text, Definition: "name of the strip"}, func(c checkRow) any { return c.Strip }},
		{Field{Name: "version", Type: Integer, Definition: "version of the strip in the logbook"}, func(c checkRow) any { return int64(c.Version) }},
		{Field{Name: "day", Type: Day, Definition: "day of the check"}, func(c checkRow) any { return c.Day.Format(time.DateOnly) }},
		{Field{Name: "pass", Type: Boolean, Definition: "every press was within the limits"}, func(c checkRow) any { return c.Pass }},
		{Field{Name: "presses", Type: Integer, Definition: "number of presses"}, func(c checkRow) any { return int64(c.Presses) }},
		{Field{Name: "load_bias", Type: Number, Definition: "mean relative error of the load"}, func(c checkRow) any { return finite(c.Bias) }},
		{Field{Name: "load_rms", Type: Number, Definition: "root mean square of the relative error of the load"}, func(c checkRow) any { return finite(c.RMSLoad) }},
		{Field{Name: "cop_rms_mm", Type: Number, Unit: "mm", Definition: "root mean square distance of the centre of pressure from where the weight was", Absent: "no press had one"}, func(c checkRow) any { return finite(c.RMSCoPMM) }},
		{Field{Name: "load_u", Type: Number, Definition: "relative standard uncertainty of the weights"}, func(c checkRow) any { return finite(c.LoadU) }},
		{Field{Name: "load_limit", Type: Number, Definition: "limit of the relative error of the load"}, func(c checkRow) any { return finite(c.LimitLoad) }},
		{Field{Name: "cop_limit_mm", Type: Number, Unit: "mm", Definition: "limit of the distance of the centre of pressure"}, func(c checkRow) any { return finite(c.LimitCoPMM) }},
	},
}
