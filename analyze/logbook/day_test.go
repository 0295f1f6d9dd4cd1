package logbook

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func TestDayAround(t *testing.T) {
	day := Day("2026-03-01")
	for at, around := range map[string]bool{
		"2026-02-27T23:59:59Z": false, "2026-02-28T00:00:00Z": true, "2026-03-01T12:00:00Z": true,
		"2026-03-02T23:59:59Z": true, "2026-03-03T00:00:00Z": false, "2026-03-02T23:00:00-09:00": true,
	} {
		made, err := time.Parse(time.RFC3339, at)
		assert.NoError(t, err)
		assert.Equal(t, around, day.Around(made), at)
	}
}
