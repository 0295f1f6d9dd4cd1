package logbook

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"

	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/analyze/sensor"
	"aplomb/analyze/track"
	"aplomb/device"
	"aplomb/device/platform"
)

// FollowUp follows a measure of a dancer over visits. It reads the latest visits of other
// dancers as well (see Filter.Informing), because the repeatability of the measure comes
// from them where this dancer has too few visits. Stale measures are left out, and other
// dancers whose consent is withdrawn. The error is ErrNotMeasured where nothing of the dancer
// is left, and ErrWithdrawn where the dancer's own consent is withdrawn. study is the
// repeatability found in a study, which replaces that of the logbook (see
// track.FollowWith); nil for none.
//
// p is a provenance without inputs. FollowUp adds the recordings that it uses, including
// those of other dancers.
func (l *Logbook) FollowUp(dancer string, m measure.Measure, study map[track.Side]*track.Repeatability, p *measure.Provenance) (*track.FollowUp, error) {
	d, err := l.Dancer(dancer)
	if err != nil {
		return nil, err
	}
	if err := d.CheckConsent(); err != nil {
		return nil, err
	}
	rows, _, err := l.usable(Filter{Informing: []string{d.Code}}, m)
	if err != nil {
		return nil, err
	}
	if !slices.ContainsFunc(rows, func(r MeasureRow) bool { return r.Dancer == d.Code }) {
		return nil, fmt.Errorf("%s of dancer %s: %w", m, d.Code, ErrNotMeasured)
	}
	shoes, err := l.shoes("")
	if err != nil {
		return nil, err
	}
	strips, err := l.strips("")
	if err != nil {
		return nil, err
	}
	f, err := track.FollowWith(m, d.Code, trackRows(rows, shoes, strips), study)
	if err != nil {
		return nil, err
	}
	others := f.Effect.Others || slices.ContainsFunc(f.Series, func(s track.Series) bool { return s.Repeat != nil && s.Repeat.Pooled && s.Repeat.Study == "" })
	used := map[int64]bool{}
	for _, r := range rows {
		used[r.RecordingID] = used[r.RecordingID] || others || r.Dancer == d.Code
	}
	f.Provenance = p
	return f, l.AddInputs(p, used)
}

// Rows returns the values of a measure in the recordings that f selects, in the form of
// package track. Stale measures are left out, and dancers whose consent is withdrawn, of
// whom the number is returned. The recordings are added to p.
func (l *Logbook) Rows(f Filter, m measure.Measure, p *measure.Provenance) (of []track.Row, withdrawn int, err error) {
	rows, withdrawn, err := l.usable(f, m)
	if err != nil {
		return nil, 0, err
	}
	shoes, err := l.shoes("")
	if err != nil {
		return nil, 0, err
	}
	strips, err := l.strips("")
	if err != nil {
		return nil, 0, err
	}
	used := map[int64]bool{}
	for _, r := range rows {
		used[r.RecordingID] = true
	}
	return trackRows(rows, shoes, strips), withdrawn, l.AddInputs(p, used)
}

// AddInputs adds recordings, by their numbers, to a provenance.
func (l *Logbook) AddInputs(p *measure.Provenance, used map[int64]bool) error {
	var ids []int64
	for id, yes := range used {
		if yes {
			ids = append(ids, id)
		}
	}
	recordings, err := l.recordings(` WHERE r.id IN (SELECT value FROM json_each(?))`, jsonList(ids))
	if err != nil {
		return err
	}
	shoes, err := l.shoes("")
	if err != nil {
		return err
	}
	strips, err := l.strips("")
	if err != nil {
		return err
	}
	shoeAt, stripAt := map[string]*device.Shoe{}, map[string]*device.Strip{}
	for i, s := range shoes {
		shoeAt[versionName(s.Code, s.Version)] = &shoes[i].Shoe
	}
	for i, s := range strips {
		stripAt[versionName(s.Name, s.Version)] = &strips[i].Strip
	}
	for _, r := range recordings {
		var sides [2]*device.Side
		for foot, f := range r.Feet {
			if f != nil {
				sides[foot] = &device.Side{Shoe: shoeAt[versionName(f.Shoe, f.ShoeVersion)], Strip: stripAt[versionName(f.Strip, f.StripVersion)]}
			}
		}
		provenance.Add(p, r.input(), sides)
	}
	return nil
}

// trackRows converts values of one measure to those of package track. A recording is
// identified by its number. shoes and strips contain every version.
func trackRows(measures []MeasureRow, shoes []Shoe, strips []Strip) (rows []track.Row) {
	at, contents, kerns, makes := map[string]*device.Shoe{}, map[string]string{}, map[string]platform.Polygon{}, map[string]string{}
	for i, s := range strips {
		contents[versionName(s.Name, s.Version)] = sensor.Content(&strips[i].Strip)
	}
	for i, s := range shoes {
		at[versionName(s.Code, s.Version)] = &shoes[i].Shoe
		kerns[versionName(s.Code, s.Version)] = shoes[i].Shoe.Outline().Kern()
		makes[versionName(s.Code, s.Version)] = track.MakeOf(&shoes[i].Shoe)
	}
	for _, m := range measures {
		row := track.Row{
			Dancer: m.Dancer, Visit: m.VisitName, Baseline: m.Baseline, Recording: strconv.FormatInt(m.RecordingID, 10), At: m.Started,
			Foot: m.Foot, Shoe: m.Shoe, Version: strconv.Itoa(m.ShoeVersion), Strip: m.Strip, Content: contents[versionName(m.Strip, m.StripVersion)], Mounting: m.Mounting,
			Support: m.Support, Rise: m.Rise, Also: track.Also{Position: m.Position, Floor: m.Floor, Fixing: m.Fixing, Feedback: m.Feedback, Padding: m.Padding, Mark: m.Mark}, N: m.N, Value: m.Value, DOF: float64(m.DOF), USeat: m.USeat, SeatDOF: float64(m.SeatDOF), Sensor: m.Sensor, Evidence: m.Evidence,
		}
		if shoe := at[versionName(m.Shoe, m.ShoeVersion)]; shoe != nil {
			row.Kern = kerns[versionName(m.Shoe, m.ShoeVersion)]
			row.Make, row.Hours = makes[versionName(m.Shoe, m.ShoeVersion)], shoe.HoursWorn
			row.Also.Padding = cmp.Or(m.Padding, shoe.Padding)
		}
		if m.U != nil {
			row.U = *m.U
		}
		rows = append(rows, row)
	}
	return rows
}
