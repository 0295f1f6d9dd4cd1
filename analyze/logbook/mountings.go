package logbook

import (
	"cmp"
	"fmt"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/device"
)

// MountingRows returns relevés in named mountings for estimating the mounting effects of
// dancers, by code: theirs, and the latest of other dancers (see Filter.Informing), except
// those of some recordings. Stale measures are left out, and dancers whose consent is
// withdrawn.
func (l *Logbook) MountingRows(dancers []string, except []Recording) (rows []mounting.Row, err error) {
	skip := map[int64]bool{}
	for _, e := range except {
		skip[e.ID] = true
	}
	all, _, err := l.usable(Filter{Informing: append([]string{}, dancers...)})
	if err != nil {
		return nil, err
	}
	for _, r := range all {
		if r.Mounting == "" || skip[r.RecordingID] {
			continue
		}
		if r.Measure == measure.LoadShare && r.Foot == device.Right && r.FeetUp == 2 {
			continue // one number for both feet
		}
		rows = append(rows, r.mountingRow())
	}
	return rows, nil
}

// mountingRow converts the row to that of package mounting.
func (r *MeasureRow) mountingRow() mounting.Row {
	return mounting.Row{
		Dancer: r.Dancer, Recording: cmp.Or(r.Identity, fmt.Sprint(r.RecordingID)), Mounting: r.Mounting, Measure: r.Measure,
		Value: r.Value, SeatU: r.USeat, Evidence: r.Evidence,
		Group: fmt.Sprintf("%s, mark %d, %q, %s, %q, %d", versionName(r.Shoe, r.ShoeVersion), r.Mark, r.Padding, r.Foot,
			measure.Conditions{Support: r.Support, Rise: r.Rise, Position: r.Position, Floor: r.Floor, Fixing: r.Fixing, Feedback: r.Feedback}, r.VisitID),
	}
}
