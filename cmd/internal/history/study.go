package history

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"

	"aplomb/analyze/measure"
	"aplomb/analyze/reliability"
	"aplomb/analyze/track"
	"aplomb/device/input"
)

// maxStudy is the largest file of a study that is read, bytes.
const maxStudy = 64 << 20

// study is the repeatability found in a study.
type study struct {
	repeatability map[track.Side]*track.Repeatability
	provenance    *measure.Provenance // of the study; nil where unknown
}

// readStudy reads the file of the query's study. It is empty where the query names none.
func (o *Query) readStudy() (s study, err error) {
	if o.Study == "" {
		return s, nil
	}
	data, err := input.ReadFile(context.Background(), o.Study, maxStudy)
	if err != nil {
		return s, err
	}
	var r reliability.Reliability
	if err := json.Unmarshal(data, &r); err != nil || len(r.Feet) == 0 {
		return s, fmt.Errorf("%s: not made by aplomb reliability --json: make it with that", o.Study)
	}
	if r.Measure != o.Measure {
		return s, fmt.Errorf("%s: of %s, not of %s: aplomb reliability --measure %s --json makes one", o.Study, r.Measure, o.Measure, o.Measure.Symbol())
	}
	s.repeatability, s.provenance = map[track.Side]*track.Repeatability{}, r.Provenance
	for _, f := range r.Feet {
		if f.SEM == nil {
			continue
		}
		from := track.BaselineVisits
		if f.Between == reliability.Mountings {
			from = track.Remountings
		}
		if s.repeatability[f.Side], err = track.OfStudy(filepath.Base(o.Study), f.SEM.SEM, f.SEM.DOF, from); err != nil {
			return s, err
		}
	}
	if len(s.repeatability) == 0 {
		return s, fmt.Errorf("%s: it has no standard error of measurement: more has to be repeated", o.Study)
	}
	return s, nil
}
