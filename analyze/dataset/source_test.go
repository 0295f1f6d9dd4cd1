package dataset_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/dataset"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/correction"
)

func at(day int, visit, mounting string) device.Metadata {
	strip := &device.Strip{Name: "L", Foot: device.Left}
	shoe := &device.Shoe{Code: "A", PlatformMM: [2]float64{35, 21}, OutlineExponent: 2.5}
	m := device.Metadata{Dancer: "D7", Visit: visit, Started: time.Date(2026, 3, day, 23, 30, 0, 0, time.UTC)}
	m.Sides[device.Left] = &device.Side{Strip: strip, Shoe: shoe, Mounting: mounting}
	return m
}

// column returns the values of one field of a table.
func column(t *testing.T, s *dataset.Source, table, name string) (all []any) {
	for _, one := range s.Tables() {
		if one.Name != table {
			continue
		}
		for i, f := range one.Fields {
			if f.Name == name {
				for _, row := range one.Rows {
					all = append(all, row[i])
				}
				return all
			}
		}
	}
	require.Fail(t, "no such field", "%s of %s", name, table)
	return nil
}

// Recordings that name the same mounting share it within a visit; one that names none has
// a mounting of its own. Rejected and failed recordings have a row and no mounting.
func TestMountingsAndUse(t *testing.T) {
	s := dataset.Source{
		Units: []dataset.Unit{
			{Dancer: "D7", Visit: "2026-03-14", Day: "2026-03-14", Recordings: []dataset.Recording{
				{ID: "a", Meta: at(14, "", "m1"), Result: &measure.Result{}},
				{ID: "b", Meta: at(14, "", "m1"), Result: &measure.Result{}},
				{ID: "c", Meta: at(14, "", ""), Result: &measure.Result{}},
				{ID: "d", Meta: at(14, "", ""), Result: &measure.Result{}},
				{ID: "e", Meta: at(14, "", ""), Remark: correction.Remark{Decision: correction.Discard}},
				{ID: "f", Meta: at(14, "", ""), Failed: "no frame in it"},
			}},
			{Dancer: "D7", Visit: "2026-03-14-2", Day: "2026-03-14", Recordings: []dataset.Recording{
				{ID: "g", Meta: at(14, "2026-03-14-2", "m1"), Result: &measure.Result{}},
			}},
		},
		Dancers: []logbook.Dancer{{Code: "D7", BirthYear: 2009}},
	}
	assert.Equal(t, []any{"a-left", "c-left", "d-left", "g-left"}, column(t, &s, "mountings", "mounting"))
	assert.Equal(t, []any{int64(2), int64(1), int64(1), int64(1)}, column(t, &s, "mountings", "recordings"))
	assert.Equal(t, []any{"a-left", "a-left", "c-left", "d-left", "g-left"}, column(t, &s, "seats", "mounting"))
	assert.Equal(t, []any{"used", "used", "used", "used", "rejected", "failed", "used"}, column(t, &s, "recordings", "use"))
	assert.Equal(t, []any{"2026-03-14", "2026-03-14-2"}, column(t, &s, "visits", "visit"), "made from the recordings")
	assert.Equal(t, []any{int64(2009)}, column(t, &s, "dancers", "birth_year"), "as the logbook keeps it")
	assert.Len(t, column(t, &s, "shoes", "shoe"), 1)
	assert.Len(t, column(t, &s, "strips", "strip"), 1)
}

// A recording that names no visit belongs to that of its day, UTC.
func TestVisitOf(t *testing.T) {
	for visit, want := range map[string][2]string{"": {"2026-03-14", "2026-03-14"}, "2026-03-02-2": {"2026-03-02-2", "2026-03-02"}} {
		m := at(14, visit, "")
		name, day := dataset.VisitOf(&m)
		assert.Equal(t, want, [2]string{name, day})
	}
}
