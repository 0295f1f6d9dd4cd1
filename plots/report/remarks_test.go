package report_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/internal/exampledata"
	"aplomb/plots/report"
	"aplomb/plots/words"
)

// inOrder fails unless the text contains the parts in this order.
func inOrder(t *testing.T, text string, parts ...string) {
	t.Helper()
	at := 0
	for _, part := range parts {
		i := strings.Index(text[at:], part)
		if !assert.GreaterOrEqual(t, i, 0, "%q is not there, or not in its place", part) {
			return
		}
		at += i + len(part)
	}
}

// People's observations and remarks are on the sheets: on the fitting sheet the choice
// and the dancer's comfort above the answer, on the lab sheet all of them, and pain
// first.
func TestWhatWasSeenAndSaid(t *testing.T) {
	f := exampledata.Usual()
	c := f.Comparison
	a, b, five, none := "A", "B", 5, 0
	c.Stop = "Stop: pain is 5 of 10."
	c.VisitRecords = []measure.Visit{{Name: "2026-03-14", PainBefore: &none, PainAfter: &five, Choice: "B", ChoiceWhy: "rolls through", Note: "new gel"}}
	c.VisitRecords[0].SingleLeg.Set(device.Left, 12)
	c.Observations = []compare.Observation{
		{Recording: "recording 1", Shoes: measure.PerFoot[string]{Left: &a, Right: &a}, Remark: &measure.Remark{Saw: []string{"sickles"}, Comfort: 2, Pinches: []string{"wings"}, Decision: "use"}},
		{Recording: "recording 2", Shoes: measure.PerFoot[string]{Left: &a, Right: &a}, Remark: &measure.Remark{Saw: []string{"sickles", "sinks"}, Comfort: 3},
			Notes: []measure.Note{{TimeS: 1, Text: "shoes on"}, {TimeS: 8, Text: measure.ShoesOn, Releve: 1}, {TimeS: 12.4, Text: "rolls late", Releve: 2, During: true}}},
		{Recording: "recording 3", Shoes: measure.PerFoot[string]{Left: &a, Right: &b}, Remark: &measure.Remark{Note: "heel <b>slips</b>"}},
	}
	f.Results[0].Releves[0].Notes, f.Results[0].Releves[1].Notes = []string{"rolls late"}, []string{"rolls late"}

	var page bytes.Buffer
	require.NoError(t, report.WriteFitting(&page, data(f)))
	inOrder(t, text(page.String()), "Stop: pain is 5 of 10.", "The fitter's choice: shoe B. Why: rolls through.", "Shoe A: 2, 3 of 5, pinches at wings.",
		"What was measured before the stop", "Fitter saw / dancer said: sickles, sinks; “rolls late”", "Shoe A on the left foot, B on the right: “heel <b>slips</b>”.", words.Validated)
	assert.NotContains(t, text(page.String()), "try next")
	assert.NotContains(t, text(page.String()), "shoes on", "it is about the recording")

	lab := text(write(t, f))
	inOrder(t, lab, "Stop: pain is 5 of 10.", "Over the box on both feet in B, behind in A", "What was seen and said",
		"Visit 2026-03-14 the fitter's choice: B (rolls through) pain before: 0 of 10 pain after: 5 of 10 rises on one leg: left 12 note: new gel",
		"recording 1, shoe A sickles; comfort 2 of 5; pinches at wings; decided: use",
		"note, 1.0 s, before the first relevé: shoes on note, 8.0 s, after relevé 1: shoes on, strips tugged at, slack looked at note, 12.4 s, in relevé 2: rolls late", "Note: rolls late", words.Validated)
	assert.Equal(t, 1, strings.Count(lab, "Note: rolls late"), "once for both feet")
}

func TestProgressSheetHasNotesAndCounts(t *testing.T) {
	d := made(t, "D7", recovery()...)
	last := &d.Visits[len(d.Visits)-1]
	last.SingleLeg.Set(device.Left, 12)
	last.SingleLeg.Set(device.Right, 9)
	last.Note, last.Choice, last.Notice = "after a week of rest", "B", "Stop: pain is 5 of 10."
	page := text(progressSheet(t, d))
	inOrder(t, page, "Stop: pain is 5 of 10.", "On 13 April 2026 the load sits", "Rises on one leg: left 12, right 9; on 2 March 2026 left 4, right 25.", "Note: “after a week of rest”. The fitter's choice: B.", "Visit by visit", "left 12, right 9", "the fitter's choice: B", words.Validated)
	for i := range d.Visits {
		d.Visits[i].SingleLeg = measure.PerFoot[int]{}
	}
	assert.NotContains(t, text(progressSheet(t, d)), "Rises on one leg")
}
