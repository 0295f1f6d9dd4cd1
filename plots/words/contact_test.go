package words_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/plots/words"
)

func TestContact(t *testing.T) {
	for _, c := range []struct {
		share  float64
		ci     *[2]float64
		expect string
	}{
		{0.88, &[2]float64{0.76, 0.94}, "88 % (76 to 94), most"},
		{1, &[2]float64{0.97, 1}, "100 % (97 to 100), all"},
		{0.5, &[2]float64{0.4, 0.6}, "50 % (40 to 60), about half"},
		{0.1, &[2]float64{0, 0.2}, "10 % (0 to 20), an edge"},
		{0.43, &[2]float64{0.07, 0.79}, "about half"},
		{0.9, &[2]float64{0.6, 1}, "most"},
		{0.43, nil, "43 %"},
	} {
		assert.Equal(t, c.expect, words.Contact(c.share, c.ci))
	}
}
