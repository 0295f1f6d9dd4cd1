package words_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/correction"
	"aplomb/plots/words"
)

func TestSaid(t *testing.T) {
	assert.Equal(t, "1.0 s, before the first relevé: shoes on", words.Note(measure.Note{TimeS: 1, Text: "shoes on"}))
	assert.Equal(t, "12.4 s, in relevé 3: sickles", words.Note(measure.Note{TimeS: 12.4, Releve: 3, During: true, Text: "sickles"}))
	assert.Equal(t, "15.0 s, after relevé 3: sickles", words.Note(measure.Note{TimeS: 15, Releve: 3, Text: "sickles"}))

	none, three := 0, 3
	assert.Equal(t, "sickles, sinks; “rolls late”; comfort 2 of 5; pinches at wings; pain 3 of 10; decided: repeat", words.Remark(measure.Remark{
		Saw: []string{"sickles", "sinks"}, Note: "rolls late", Comfort: 2, Pinches: []string{"wings"}, Pain: &three, Decision: correction.Repeat,
	}))
	assert.Empty(t, words.Remark(measure.Remark{}))

	v := measure.Visit{Name: "2026-03-14", PainBefore: &none, PainWhere: "left toes 1", Choice: "B", ChoiceWhy: "rolls through", WarmUp: "yes", MaxRises: 12, Note: "new gel", Stop: "Stop."}
	v.SingleLeg.Set(device.Left, 12)
	v.SingleLeg.Set(device.Right, 9)
	assert.Equal(t, []string{
		"the fitter's choice: B (rolls through)", "pain before: 0 of 10", "where: left toes 1", "rises on one leg: left 12, right 9", "warmed up: yes", "most rises: 12", "note: new gel",
	}, words.Visit(v))
	assert.Empty(t, words.Visit(measure.Visit{}))
}
