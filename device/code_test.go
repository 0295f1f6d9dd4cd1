package device

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestReadsLikeName(t *testing.T) {
	for _, name := range []string{"Firstname Lastname", "FIRSTNAME LASTNAME", "Élodie-Zoë D’Oro", "Firstname Of Lastname", "Lastname, Firstname"} {
		assert.True(t, ReadsLikeName(name), name)
	}
	for _, code := range []string{"D7", "Group 2", "Group A", "Firstname", "class of 2026", "D7 D8", "first last", "../<D 8>", ""} {
		assert.False(t, ReadsLikeName(code), code)
	}
}

func TestIsControl(t *testing.T) {
	for _, r := range "\n\x00\x1b\u0085\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069" {
		assert.True(t, IsControl(r), "%U", r)
	}
	for _, r := range " aß漢\u0301\u200d\u2029\u2030\u2065\u206a" {
		assert.False(t, IsControl(r), "%U", r)
	}
}

func TestCheckCode(t *testing.T) {
	for _, good := range []string{"D7", "a b", "../x", "<b>", `"`, "Zoë", strings.Repeat("é", 60)} {
		assert.NoError(t, CheckCode(good), good)
	}
	for _, bad := range []string{"", " ", "a\nb", "\xff", "a\u200b", strings.Repeat("x", 61), strings.Repeat("x", 300)} {
		err := CheckCode(bad)
		if assert.Error(t, err, "%q", bad) {
			assert.NotContains(t, err.Error(), "\n")
			assert.Less(t, len(err.Error()), 200)
		}
	}
}
