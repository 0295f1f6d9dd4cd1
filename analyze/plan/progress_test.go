package plan

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// say joins the lines of Progress.Say.
func say(c Progress) string { return strings.Join(c.Lines(), ", ") }

func abba(t *testing.T) Plan {
	p, err := Mirrored([]string{"A", "B"}, 2, 5, 0)
	require.NoError(t, err)
	require.Equal(t, "ABBA", order(p))
	return p
}

// FromSteps restores a plan from its stored steps.
func TestPlanFromStoredSteps(t *testing.T) {
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

// both returns a recording of both feet.
func both(name, shoe, mounting string, left, right int) Recorded {
	return Recorded{Name: name, Shoe: shoe, Mounting: mounting, Feet: [2]bool{true, true}, Releves: [2]int{left, right}}
}

func TestPlanIsFollowed(t *testing.T) {
	p := abba(t)
	var done []Recorded
	assert.Equal(t, "next: shoe A, mount the strips (1 of 4)", say(p.Follow(done)))
	done = append(done, both("1", "A", "m1", 5, 5))
	assert.Equal(t, "next: shoe B, mount the strips again (2 of 4)", say(p.Follow(done)))
	done = append(done, both("2", "B", "m2", 6, 5))
	assert.Equal(t, "rest for two minutes, next: shoe B stays on, mount the strips again (3 of 4)", say(p.Follow(done)))
	done = append(done, both("3", "B", "m3", -1, -1))
	assert.Equal(t, "next: shoe A, mount the strips again (4 of 4)", say(p.Follow(done)))
	done = append(done, both("4", "A", "m4", 5, 5))
	c := p.Follow(done)
	assert.Equal(t, "the plan is done, 4 of 4", say(c))
	assert.Empty(t, c.Notes)
	assert.Equal(t, 4, c.Done())
	assert.Equal(t, "recording 1: 5 relevés", c.Steps[0].Text())
	assert.Equal(t, "recording 2: 6 relevés left, 5 right", c.Steps[1].Text())
	assert.Equal(t, "recording 3", c.Steps[2].Text(), "the numbers of its relevés are not known")
}

func TestPlanGoesOnWhereItWasNotFollowed(t *testing.T) {
	p := abba(t)
	c := p.Follow([]Recorded{both("7", "B", "m1", 5, 5)})
	assert.Equal(t, []Note{{"7", "shoe B where shoe A was next; it counts as 2 of 4, and the plan goes on"}}, c.Notes)
	assert.Equal(t, "next: shoe A, mount the strips (1 of 4)", say(c))

	c = p.Follow([]Recorded{both("7", "C", "m1", 5, 5), both("8", "A", "m2", 5, 5), both("9", "A", "", 5, 5), both("10", "A", "", 5, 5)})
	assert.Equal(t, []Note{
		{"7", "shoe C is not in the plan, which goes on"},
		{"9", "shoe A where shoe B was next; it counts as 4 of 4, and the plan goes on"},
		{"10", "shoe A once more than planned; the plan goes on"},
	}, c.Notes)
	assert.Equal(t, 2, c.Done())
}

// A step is done once each foot has its relevés in one mounting, or if a person accepts
// fewer.
func TestStepIsDoneWhenEachFootHasItsReleves(t *testing.T) {
	p := abba(t)
	c := p.Follow([]Recorded{both("1", "A", "m1", 2, 5)})
	assert.Equal(t, []Note{{"1", "left 2 of 5, right 5 of 5: the step is not done yet"}}, c.Notes)
	assert.Equal(t, "next: shoe A has left 2 of 5, right 5 of 5: go on in that mounting, or mount the strips again (1 of 4)", say(c))
	assert.Zero(t, c.Done())

	// Recordings of one mounting add up; those of another take their place.
	c = p.Follow([]Recorded{both("1", "A", "m1", 2, 5), both("2", "A", "m1", 3, 0)})
	assert.Empty(t, c.Notes)
	assert.Equal(t, "recording 1, 2: 5 relevés", c.Steps[0].Text())
	assert.Equal(t, 1, c.Next)
	c = p.Follow([]Recorded{both("1", "A", "m1", 2, 5), both("2", "A", "m2", 5, 5)})
	assert.True(t, c.Steps[0].Done)
	assert.Equal(t, []string{"2"}, c.Steps[0].Recordings)
	assert.False(t, c.Steps[3].Done)
	// Recordings without a name of the mounting are different mountings.
	c = p.Follow([]Recorded{both("1", "A", "", 2, 2), both("2", "A", "", 3, 3)})
	assert.Zero(t, c.Done())

	// One foot, nothing measured, and what a person has rejected do not count.
	left := Recorded{Name: "2", Shoe: "A", Mounting: "m2", Feet: [2]bool{true, false}, Releves: [2]int{5, 0}}
	empty, rejectedOne := both("1", "A", "m1", 0, 0), both("3", "A", "m3", 5, 5)
	rejectedOne.Decision = Reject
	p.Feet = [2]bool{true, true}
	c = p.Follow([]Recorded{empty, left, rejectedOne})
	assert.Zero(t, c.Done())
	assert.Equal(t, []Note{
		{"1", "no relevé measured: it does not count; it is kept"}, {"3", "not used; it is kept"},
		{"2", "left 5 of 5, right 0 of 5: the step is not done yet"},
	}, c.Notes)
	p.Feet = [2]bool{}
	assert.Equal(t, 1, p.Follow([]Recorded{left}).Done(), "only that foot was ever recorded, and the plan does not say")

	left.Decision = Use
	p.Feet = [2]bool{true, true}
	assert.Equal(t, 1, p.Follow([]Recorded{left}).Done())
	empty.Decision = Use
	assert.Zero(t, p.Follow([]Recorded{empty}).Done(), "there is nothing to use")
}

// For recordings in any order, a step has recordings of its own shoe only, a recording
// counts once or gets a note, a done step has its relevés, and the next step is the first
// that is not done.
func TestProgressProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, err := Mirrored(named(rapid.IntRange(1, 4).Draw(t, "shoes")), rapid.IntRange(1, 3).Draw(t, "mountings"), 2, rapid.Uint64().Draw(t, "seed"))
		require.NoError(t, err)
		p.Feet = [2]bool{true, rapid.Bool().Draw(t, "right")}
		var done []Recorded
		byName := map[string]Recorded{}
		for i := range rapid.IntRange(0, 15).Draw(t, "recordings") {
			r := both(fmt.Sprint(i), rapid.SampledFrom(named(5)).Draw(t, "shoe"), rapid.SampledFrom([]string{"", "m", "n"}).Draw(t, "mounting"),
				rapid.IntRange(-1, 3).Draw(t, "left"), rapid.IntRange(-1, 3).Draw(t, "right"))
			r.Decision = rapid.SampledFrom([]Decision{Undecided, Use, Reject}).Draw(t, "decision")
			done, byName[r.Name] = append(done, r), r
		}
		c := p.Follow(done)
		counted := map[string]bool{}
		for i, taken := range c.Steps {
			used, known := false, true
			var sum [2]int
			for _, name := range taken.Recordings {
				r := byName[name]
				assert.Equal(t, p.Steps[i].Shoe, r.Shoe)
				assert.NotEqual(t, Reject, r.Decision)
				assert.False(t, counted[name], "twice")
				counted[name], used = true, used || r.Decision == Use
				for f := range sum {
					sum[f] += r.Releves[f]
					known = known && r.Releves[f] >= 0
				}
			}
			if taken.Done && !used && known {
				for f, is := range p.Feet {
					assert.False(t, is && sum[f] < 2)
				}
			}
			assert.Equal(t, i == c.Next, !taken.Done && !slices.ContainsFunc(c.Steps[:i], func(s StepProgress) bool { return !s.Done }))
		}
		noted := map[string]bool{}
		for _, n := range c.Notes {
			noted[n.Recording] = true
		}
		groups := map[string]bool{} // shoe and mounting of what counts or is noted
		for _, r := range done {
			if counted[r.Name] || noted[r.Name] {
				groups[r.Shoe+r.Mounting] = true
			}
		}
		for _, r := range done {
			assert.True(t, counted[r.Name] || noted[r.Name] || r.Mounting != "" && groups[r.Shoe+r.Mounting], "recording %s is nowhere", r.Name)
		}
		assert.NotEmpty(t, c.Lines())
	})
}
