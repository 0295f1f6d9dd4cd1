package device

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

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
