package dataset

import (
	"strconv"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// partition names the levels of folders of a partitioned table.
var partition = []string{"dancer", "recording"}

// partKind is a kind of table with one part per recording.
type partKind struct {
	schema Schema
	of     func(*Recording) Table
}

func partOf[T any](l layout[T], rows func(*Recording) []T) partKind {
	s := l.schema()
	s.Partition = partition
	return partKind{s, func(r *Recording) Table {
		t := l.table(rows(r))
		t.Schema = s
		return t
	}}
}

var partKinds = []partKind{partOf(copLayout, (*Recording).samples), partOf(mapLayout, (*Recording).cells), partOf(frameLayout, func(r *Recording) []Count { return r.Counts })}

// Part returns the part of a measured recording in a partitioned table.
func (r *Recording) Part(table string) Table {
	for _, k := range partKinds {
		if k.schema.Name == table {
			return k.of(r)
		}
	}
	panic("no partitioned table " + table)
}

// Phase is the phase of a foot's movement at a time.
type Phase string

const (
	Idle     Phase = "none"
	Pressing Phase = "press"   // somebody presses the platform on a pad
	Rising   Phase = "rise"    // from the beginning of the load to the hold
	Holding  Phase = "hold"    // the steady part of a relevé
	Lowering Phase = "lower"   // from the end of the hold to the end of the load
	Failing  Phase = "aborted" // a relevé that was not measured
)

// sample is a frame of one foot.
type sample struct {
	foot device.Foot
	measure.Sample
	phase Phase
	n     int // of the relevé; 0 outside
}

func (r *Recording) samples() []sample {
	var all []sample
	for _, f := range device.Feet {
		for _, s := range r.Result.Traces[f] {
			phase, n := r.phaseAt(f, s.T)
			all = append(all, sample{f, s, phase, n})
		}
	}
	return all
}

// phaseAt returns the phase of a foot at a time, and the n of the relevé.
func (r *Recording) phaseAt(f device.Foot, t float64) (Phase, int) {
	for i := range r.Result.Presses[f] {
		if p := &r.Result.Presses[f][i]; p.StartS <= t && t <= p.EndS {
			return Pressing, 0
		}
	}
	for i := range r.Result.Releves {
		one := &r.Result.Releves[i]
		if one.Foot != f || t < one.StartS || t > one.EndS {
			continue
		}
		switch h := one.Hold; {
		case h == nil:
			return Failing, one.N
		case t < h.HoldStartS:
			return Rising, one.N
		case t <= h.HoldStartS+h.HoldS:
			return Holding, one.N
		}
		return Lowering, one.N
	}
	return Idle, 0
}

// single returns a number of single precision with the fewest digits that distinguish it
// from its neighbours, nil where it is not a number.
func single(v float32) any {
	short, _ := strconv.ParseFloat(strconv.FormatFloat(float64(v), 'g', -1, 32), 64)
	return finite(short)
}

var copLayout = layout[sample]{
	name:       "cop",
	definition: "One row a frame of one foot: load and centre of pressure against time. Frames have the weights of their cells alone; the means of holds in releves add what the reconstruction of the mean map finds beyond them.",
	key:        []string{"foot", "time_s"},
	columns: []column[sample]{
		{footField, func(s sample) any { return s.foot.String() }},
		{Field{Name: "time_s", Type: Number, Unit: "s", Definition: "middle of the scan of the frame, since the recording's first frame"}, func(s sample) any { return finite(s.T) }},
		{Field{Name: "medial_mm", Type: Number, Unit: "mm", Definition: "centre of pressure from side to side, from the platform's centroid", Positive: "towards the big toe", Absent: unloaded}, func(s sample) any { return single(s.MedialMM) }},
		{Field{Name: "over_mm", Type: Number, Unit: "mm", Definition: "centre of pressure from back to front, from the platform's centroid", Positive: "towards the front", Absent: unloaded}, func(s sample) any { return single(s.OverMM) }},
		{Field{Name: "load_n", Type: Number, Unit: "N", Definition: "force under the platform"}, func(s sample) any { return single(s.LoadN) }},
		{Field{Name: "phase", Type: Text, Definition: "what the foot does: none, press (the platform is pressed on a pad), rise, hold, lower, or aborted (a relevé that was not measured)", Values: words(Idle, Pressing, Rising, Holding, Lowering, Failing)}, func(s sample) any { return string(s.phase) }},
		{during(riseField), func(s sample) any { return counted(s.n) }},
	},
}

// during returns the field of a rise, marked as absent outside rises.
func during(f Field) Field {
	f.Absent = "there is no rise"
	return f
}

const unloaded = "the load is too small for a place, or the zero was not known"

// pressed is one cell in one hold.
type pressed struct {
	*measure.Releve
	row, column int
	at          [2]float64 // its centre, medial and over, mm
	kPa         float64
}

func (r *Recording) cells() []pressed {
	var all []pressed
	for i := range r.Result.Releves {
		one := &r.Result.Releves[i]
		side, seat := r.Meta.Sides[one.Foot], r.Result.Seats.Of(one.Foot)
		if one.Hold == nil || side == nil || seat == nil {
			continue
		}
		strip := *side.Strip
		strip.Mount.OffsetMM, strip.Mount.RotationDeg = [2]float64{seat.Medial.Value, seat.Over.Value}, seat.Rotation.Value
		for k, kPa := range one.Map {
			row, column := strip.RowCol(k)
			all = append(all, pressed{one, row + 1, column + 1, strip.Centre(row, column), kPa})
		}
	}
	return all
}

var (
	rowField    = Field{Name: "row", Type: Integer, Definition: "row of the cell, from the back of the platform, from 1"}
	columnField = Field{Name: "column", Type: Integer, Definition: "column of the cell, from the little-toe side, from 1"}
)

var mapLayout = layout[pressed]{
	name:       "maps",
	definition: "One row a cell and hold: the mean pressure on the cell over the hold, and where the cell lies in the seat that was found.",
	key:        []string{"n", "foot", "row", "column"},
	columns: []column[pressed]{
		{riseField, func(p pressed) any { return int64(p.N) }},
		{footField, func(p pressed) any { return p.Foot.String() }},
		{rowField, func(p pressed) any { return int64(p.row) }},
		{columnField, func(p pressed) any { return int64(p.column) }},
		{Field{Name: "cell_medial_mm", Type: Number, Unit: "mm", Definition: "centre of the cell from side to side, from the platform's centroid", Positive: "towards the big toe"}, func(p pressed) any { return finite(p.at[0]) }},
		{Field{Name: "cell_over_mm", Type: Number, Unit: "mm", Definition: "centre of the cell from back to front, from the platform's centroid", Positive: "towards the front"}, func(p pressed) any { return finite(p.at[1]) }},
		{Field{Name: "kpa", Type: Number, Unit: "kPa", Definition: "mean pressure on the cell over the hold", Absent: "the cell does not measure"}, func(p pressed) any { return finite(p.kPa) }},
	},
}

// Count is the reading of one cell in one frame.
type Count struct {
	Foot        device.Foot
	Frame       int     // number of the frame among those of its foot, from 1
	TimeS       float64 // the strip's clock at the middle of the scan, s since its first frame
	Row, Column int     // from 0
	Counts      uint16
}

var frameLayout = layout[Count]{
	name:       "frames",
	definition: "One row a cell and frame of one foot: what the strip sent, before anything is computed from it.",
	key:        []string{"foot", "frame", "row", "column"},
	columns: []column[Count]{
		{footField, func(c Count) any { return c.Foot.String() }},
		{Field{Name: "frame", Type: Integer, Definition: "number of the frame among those of its foot that the recording has, from 1"}, func(c Count) any { return int64(c.Frame) }},
		{Field{Name: "strip_time_s", Type: Number, Unit: "s", Definition: "the strip's own clock at the middle of the scan of the frame, since its first frame"}, func(c Count) any { return finite(c.TimeS) }},
		{rowField, func(c Count) any { return int64(c.Row) + 1 }},
		{columnField, func(c Count) any { return int64(c.Column) + 1 }},
		{Field{Name: "counts", Type: Integer, Definition: "reading of the cell in counts of the converter; the strip's profile has its curve, gains and zeros"}, func(c Count) any { return int64(c.Counts) }},
	},
}
