package words_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/measure"
	"aplomb/plots/words"
)

// All assumptions are in one sentence, which lists a common assumption of several strips
// once.
func TestAssumed(t *testing.T) {
	of := func(strip string, code measure.Code) measure.Warning {
		return measure.Warn(code, measure.Values{Strip: strip, MM: 1, Percent: 3})
	}
	assert.Equal(t, "Assumed, not measured: cells differ by 3 % (L-01, R-01); mountings repeat to 1.0 mm (R-01)", words.Assumed([]measure.Warning{
		of("L-01", measure.GainAssumed), of("R-01", measure.GainAssumed), of("L-01", measure.SeatMoved), of("R-01", measure.SeatAssumed), of("", measure.HostClock),
	}))
	assert.Empty(t, words.Assumed([]measure.Warning{of("L-01", measure.SeatMoved)}))
	assert.Empty(t, words.Assumed(nil))
}

// Every code of that class has its own phrase, shorter than its sentence.
func TestEveryAssumptionHasItsPhrase(t *testing.T) {
	codes := map[string]measure.Code{}
	for _, code := range measure.Codes() {
		w := measure.Warn(code, measure.Values{})
		if w.Class != measure.Assumed {
			continue
		}
		said := words.Assumed([]measure.Warning{w})
		assert.NotContains(t, said, words.Warning(w), code)
		assert.Empty(t, codes[said], "%s and %s have one phrase", code, codes[said])
		codes[said] = code
	}
}
