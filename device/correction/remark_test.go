package correction_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device/correction"
)

func TestRemarks(t *testing.T) {
	m := recorded()
	two := 2
	h := correction.New("0123456789", m.Started)
	at := time.Date(2026, 3, 14, 11, 0, 0, 0, time.UTC)
	h = h.Add(correction.Entry{At: at, Remark: &correction.Remark{Saw: []string{"sickles"}, Comfort: 4, Pain: &two, Decision: correction.Repeat}})
	h = h.Add(correction.Entry{At: at, Left: &correction.Side{Mark: ptr(2)}})
	h = h.Add(correction.Entry{At: at, Remark: &correction.Remark{Note: "lands quietly", Decision: correction.Use}})
	h = h.Add(correction.Entry{At: at, Undo: true})
	data, err := h.Encode()
	require.NoError(t, err)
	back, err := correction.Parse(data)
	require.NoError(t, err)
	want := correction.Remark{Saw: []string{"sickles"}, Note: "lands quietly", Comfort: 4, Pain: &two, Decision: correction.Use}
	assert.Equal(t, want, back.Remark(), "the later decision counts, and undo leaves remarks")
	assert.False(t, back.Remark().Rejected())
	now, err := back.Apply(m)
	require.NoError(t, err)
	assert.Equal(t, m, now)
	steps, err := back.Steps(m)
	require.NoError(t, err)
	assert.Len(t, steps, 2, "a remark corrects nothing")

	for _, bad := range []correction.Remark{{}, {Comfort: 6}, {Pain: ptr(11)}, {Decision: "perhaps"}, {Note: "two\nlines"}, {Saw: []string{"\u202eright to left"}}} {
		_, err := correction.New("0123456789", m.Started).Add(correction.Entry{At: at, Remark: &bad}).Encode()
		assert.Error(t, err, "%+v", bad)
	}
}
