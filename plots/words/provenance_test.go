package words_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/measure"
	"aplomb/plots/words"
)

func TestSoftware(t *testing.T) {
	s := measure.Software{Version: "1.2.3"}
	assert.Equal(t, "1.2.3", words.Software(s))
	s.Commit = "5a72c400d3a1fd96bd0ae1e2d59c54b77b6a3f61"
	assert.Equal(t, "1.2.3 (commit 5a72c400)", words.Software(s))
	s.Modified = true
	assert.Equal(t, "1.2.3 (commit 5a72c400, modified)", words.Software(s))
}

// The latest validation of a strip counts if it was measured with the given profile;
// simulated ones do not count.
func TestValidatedOn(t *testing.T) {
	agreed := func(sha string, day int, bias float64) measure.Agreement {
		return measure.Agreement{StripSHA256: sha, Day: time.Date(2026, 3, day, 0, 0, 0, 0, time.UTC), Measures: []measure.Agreed{
			{Measure: measure.Over, Holds: 12, Bias: bias, Lower: bias - 0.8, Upper: bias + 0.8}, {Measure: measure.Load, Holds: 12, Bias: 3, Lower: -5, Upper: 11},
		}}
	}
	p := &measure.Provenance{Strips: []measure.Content{{Name: "L-01", SHA256: "l"}}}
	assert.Equal(t, words.Validated, words.ValidatedOn(p))
	simulated, light := agreed("l", 20, 0), agreed("l", 21, 0)
	simulated.Simulated, light.Measures = true, nil
	p.Agreements = []measure.Agreement{agreed("other", 1, 0), simulated, light}
	assert.Equal(t, words.Validated, words.ValidatedOn(p))
	p.Agreements = []measure.Agreement{agreed("l", 13, 0.5), agreed("l", 14, -0.1), simulated}
	const said = "agreement with a reference instrument: strip L-01 on 2026-03-14 over −0.1 ± 0.8 mm, 12 holds of one mounting"
	assert.Equal(t, said, words.ValidatedOn(p))
	p.Strips = append(p.Strips, measure.Content{Name: "R-01", SHA256: "r"})
	assert.Equal(t, said+"; the others: "+words.Validated, words.ValidatedOn(p))
	loads := agreed("r", 15, 0)
	loads.Measures = loads.Measures[1:]
	p.Agreements = append(p.Agreements, loads)
	assert.Equal(t, said+"; strip R-01 on 2026-03-15 load 3 ± 8 N, 12 holds of one mounting", words.ValidatedOn(p))
}
