package text_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/text"
)

func TestNumbers(t *testing.T) {
	for want, ids := range map[string][]int64{
		"": nil, "4": {4}, "4, 5": {4, 5}, "4 to 6": {4, 5, 6}, "1, 3": {1, 3}, "1, 2, 5 to 9, 12": {1, 2, 5, 6, 7, 8, 9, 12},
	} {
		var recordings []logbook.Recording
		for _, id := range ids {
			recordings = append(recordings, logbook.Recording{ID: id})
		}
		assert.Equal(t, want, text.Numbers(recordings))
	}
}
