package words_test

import (
	"testing"

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
