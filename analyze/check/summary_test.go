package check_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/check"
)

func TestSay(t *testing.T) {
	r := &check.Report{Whole: true, Trusted: true, Findings: []check.Finding{{About: "left", Text: "its frames are not numbered"}}}
	assert.Equal(t, "whole", r.Summary())
	r.Whole = false
	assert.Equal(t, "not whole, but what is there can be trusted", r.Summary())
	r.Trusted = false
	r.Findings = append(r.Findings, check.Finding{About: "left", Text: "8 cells dead", Grave: true})
	assert.Equal(t, "not whole: left foot, 8 cells dead", r.Summary())
	r.Whole = true
	r.Findings = append(r.Findings, check.Finding{About: "both", Text: "the strips read 900 N", Grave: true})
	assert.Equal(t, "whole, but not to be trusted: left foot, 8 cells dead; and 1 more", r.Summary())
}
