package plan

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// say joins the lines of Progress.Say.
func say(c Progress) string { return strings.Join(c.Say(), ", ") }

func abba(t *testing.T) Plan {
	p, err := Mirrored([]string{"A", "B"}, 2, 5, 0)
	require.NoError(t, err)
	require.Equal(t, "ABBA", order(p))
	return p
}

// FromSteps restores a plan from what is stored of it.
func TestPlanFromWhatWasKept(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, err := Mirrored(named(rapid.IntRange(1, 6).Draw(t, "shoes")), rapid.IntRange(1, 6).Draw(t, "mountings"), rapid.IntRange(1, 9).Draw(t, "releves"), rapid.Uint64().Draw(t, "seed"))
		require.NoError(t, err)
		var kept []Step
		for _, s := range p.Steps {
			kept = append(kept, Step{Shoe: s.Shoe, Mounting: s.Mounting, Releves: s.Releves})
		}
		again := FromSteps(p.Seed, kept)
		assert.ElementsMatch(t, p.Shoes, again.Shoes)
		again.Shoes = p.Shoes
		assert.Equal(t, p, again)
		for i, s := range p.Steps {
			assert.Equal(t, i > 0 && i%len(p.Shoes) == 0, s.Rest, "one rest before each round but the first")
			assert.Equal(t, i > 0 && p.Steps[i-1].Shoe == s.Shoe, s.SameShoe)
		}
	})
	assert.Empty(t, FromSteps(0, nil))
}

func TestPlanIsFollowed(t *testing.T) {
	p := abba(t)
	var done []Recorded
	assert.Equal(t, "next: shoe A, mount the strips (1 of 4)", say(p.Follow(done)))
	done = append(done, Recorded{"1", "A", "m1", 5})
	assert.Equal(t, "next: shoe B, mount the strips anew (2 of 4)", say(p.Follow(done)))
	done = append(done, Recorded{"2", "B", "m2", 6})
	assert.Equal(t, "rest for two minutes, next: shoe B stays on, mount the strips anew (3 of 4)", say(p.Follow(done)))
	done = append(done, Recorded{"3", "B", "m3", -1})
	assert.Equal(t, "next: shoe A, mount the strips anew (4 of 4)", say(p.Follow(done)))
	done = append(done, Recorded{"4", "A", "m4", 5})
	c := p.Follow(done)
	assert.Equal(t, "the plan is done, 4 of 4", say(c))
	assert.Empty(t, c.Notes)
	assert.Equal(t, 4, c.Done())
	assert.Equal(t, "recording 2: 6 relevés", c.Steps[1].Say())
	assert.Equal(t, "recording 3", c.Steps[2].Say(), "how many relevés it has nobody knows")
}

func TestPlanGoesOnWhereItWasNotFollowed(t *testing.T) {
	p := abba(t)
	c := p.Follow([]Recorded{{"7", "B", "m1", 5}})
	assert.Equal(t, []Note{{"7", "shoe B where shoe A was next; it counts as 2 of 4, and the plan goes on"}}, c.Notes)
	assert.Equal(t, "next: shoe A, mount the strips (1 of 4)", say(c))

	c = p.Follow([]Recorded{{"7", "C", "m1", 5}, {"8", "A", "m2", 5}, {"9", "A", "", 5}, {"10", "A", "", 5}})
	assert.Equal(t, []Note{
		{"7", "shoe C is not in the plan, which goes on"},
		{"9", "shoe A where shoe B was next; it counts as 4 of 4, and the plan goes on"},
		{"10", "shoe A once more than planned; the plan goes on"},
	}, c.Notes)
	assert.Equal(t, 2, c.Done())

	// A step with too few relevés counts; recordings of the same mounting add up.
	c = p.Follow([]Recorded{{"1", "A", "m1", 2}, {"2", "B", "m2", 1}})
	assert.Equal(t, []Note{{"1", "2 of 5 planned relevés; it counts, with less to see by"}, {"2", "1 of 5 planned relevés; it counts, with less to see by"}}, c.Notes)
	c = p.Follow([]Recorded{{"1", "A", "m1", 2}, {"2", "A", "m1", 3}, {"3", "B", "m2", 5}})
	assert.Empty(t, c.Notes)
	assert.Equal(t, "recording 1, 2: 5 relevés", c.Steps[0].Say())
	assert.Equal(t, 2, c.Next)
	// Recordings without a name of the mounting are different mountings.
	c = p.Follow([]Recorded{{"1", "A", "", 2}, {"2", "A", "", 3}})
	assert.Len(t, c.Notes, 3)
}

// For recordings in any order, a step has recordings of its own shoe only, a recording
// counts once or is noted, and the next step is the first without a recording.
func TestCourseAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, err := Mirrored(named(rapid.IntRange(1, 4).Draw(t, "shoes")), rapid.IntRange(1, 3).Draw(t, "mountings"), 2, rapid.Uint64().Draw(t, "seed"))
		require.NoError(t, err)
		var done []Recorded
		shoe := map[string]string{}
		for i := range rapid.IntRange(0, 15).Draw(t, "recordings") {
			r := Recorded{fmt.Sprint(i), rapid.SampledFrom(named(5)).Draw(t, "shoe"), rapid.SampledFrom([]string{"", "m", "n"}).Draw(t, "mounting"), rapid.IntRange(-1, 3).Draw(t, "releves")}
			done, shoe[r.Name] = append(done, r), r.Shoe
		}
		c := p.Follow(done)
		counted := map[string]bool{}
		for i, taken := range c.Steps {
			for _, name := range taken.Recordings {
				assert.Equal(t, p.Steps[i].Shoe, shoe[name])
				assert.False(t, counted[name], "twice")
				counted[name] = true
			}
			if i < c.Next {
				assert.NotEmpty(t, taken.Recordings)
			}
		}
		if c.Next < len(p.Steps) {
			assert.Empty(t, c.Steps[c.Next].Recordings)
		}
		noted := map[string]bool{}
		for _, n := range c.Notes {
			noted[n.Recording] = true
		}
		for _, r := range done {
			assert.True(t, counted[r.Name] || noted[r.Name], "recording %s is nowhere", r.Name)
		}
		assert.NotEmpty(t, c.Say())
	})
}
