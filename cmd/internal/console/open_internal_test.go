package console

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestOpener(t *testing.T) {
	for system, want := range map[string]string{"linux": "xdg-open", "freebsd": "xdg-open", "darwin": "open", "windows": "rundll32"} {
		assert.Equal(t, want, opener(system)[0])
	}
	with := func(name string) func(string) string {
		return func(asked string) string {
			if asked == name {
				return ":0"
			}
			return ""
		}
	}
	assert.False(t, hasDesktop("linux", with("")))
	assert.True(t, hasDesktop("linux", with("DISPLAY")))
	assert.True(t, hasDesktop("linux", with("WAYLAND_DISPLAY")))
	assert.True(t, hasDesktop("darwin", with("")))
	assert.True(t, hasDesktop("windows", with("")))
}
