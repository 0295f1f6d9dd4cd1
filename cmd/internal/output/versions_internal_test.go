package output

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestChanged(t *testing.T) {
	before := []string{"shank", "soft", "padding", "gel", "hours worn", ""}
	assert.Equal(t, "shank hard (was soft); padding no longer said; hours worn 6",
		changed(before, []string{"shank", "hard", "padding", "", "hours worn", "6"}))
	assert.Equal(t, "details", changed(before, before))
	assert.Equal(t, "shank a word that goes on and on and on and on and on (was soft); padding; hours worn",
		changed(before, []string{"shank", "a word that goes on and on and on and on and on", "padding", "wool", "hours worn", "6"}))
}
