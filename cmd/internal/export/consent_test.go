package export_test

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/export"
	"aplomb/cmd/internal/lookup"
)

// Recordings, visits and dancers are omitted together if a consent does not cover the
// package.
func TestConsent(t *testing.T) {
	var p lookup.Kept
	for _, code := range []string{"asked", "shares", "studies", "withdrew"} {
		p.Dancers = append(p.Dancers, logbook.Dancer{Code: code, Consent: map[string]string{"shares": logbook.ConsentSharing, "studies": logbook.ConsentStudy, "withdrew": logbook.ConsentWithdrawn}[code]})
		p.Visits = append(p.Visits, logbook.Visit{Dancer: code})
		for _, n := range []string{"1", "2"} {
			p.Paths = append(p.Paths, code+n)
			p.Entries = append(p.Entries, logbook.Recording{Dancer: code})
		}
	}
	for need, want := range map[export.Consent][]string{
		{}:                               {"asked", "shares", "studies"},
		{Elsewhere: true}:                {"asked", "shares", "studies"},
		{Sharing: true}:                  {"shares"},
		{Sharing: true, Elsewhere: true}: {"asked", "shares"},
	} {
		var said bytes.Buffer
		kept, about, err := need.Obey(t.Context(), &said, nil, p)
		require.NoError(t, err)
		var dancers, visits, entries []string
		for _, d := range kept.Dancers {
			dancers = append(dancers, d.Code)
		}
		for _, v := range kept.Visits {
			visits = append(visits, v.Dancer)
		}
		for i, e := range kept.Entries {
			assert.Contains(t, kept.Paths[i], e.Dancer)
			if i%2 == 0 {
				entries = append(entries, e.Dancer)
			}
		}
		assert.Equal(t, want, dancers, "%+v", need)
		assert.Equal(t, want, visits, "%+v", need)
		assert.Equal(t, want, entries, "%+v", need)
		assert.Contains(t, said.String(), "left out: 2 recordings of 1 dancer (withdrew): consent is withdrawn\n")
		assert.Contains(t, about, "- 2 recordings of 1 dancer: consent is withdrawn\n")
		assert.NotContains(t, about, "withdrew")
		assert.Len(t, p.Paths, 8, "what was given stays")
	}
	p.Paths, p.Entries, p.Dancers = p.Paths[6:], p.Entries[6:], p.Dancers[3:]
	_, _, err := export.Consent{}.Obey(t.Context(), &bytes.Buffer{}, nil, p)
	assert.EqualError(t, err, "no dancer's consent covers what is asked for, and nothing is exported")
}
