//go:build unix

package main

import (
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Operators of the keystroke-level model, s: pressing a key, for an average typist who is no
// secretary; moving the hand to the keyboard; preparing mentally. S. K. Card, T. P. Moran and
// A. Newell, The keystroke-level model for user performance time with interactive systems,
// Communications of the ACM 23 (1980) 396-410.
const (
	keystrokeS = 0.28
	homingS    = 0.40
	mentalS    = 1.35
)

// The test counts the effort of a fitting of three shoes with two mountings each, in
// rehearsal and with the key next alone: what a fitter types, how long that takes by the
// keystroke-level model, and how long the answer takes after the last two questions,
// answered in that model's time.
func TestEffortOfAFitting(t *testing.T) {
	if os.Getenv("APLOMB_LONG") == "" {
		t.Skip("takes a minute: APLOMB_LONG=1")
	}
	const next = " "
	keys, atShoes := 0, 0 // pressed in all, and with hands on the shoes before and after
	x := onTerminal(t, t.TempDir(), 80, 24, []string{rehearsalPace + "=30"},
		"fitting", "--rehearse", "--shoes", "A,B,C", "--mountings", "2", "--seed", "1", "--logbook", "book")
	press := func(asked string) {
		t.Helper()
		x.answers(asked, next)
		keys++
	}
	for _, asked := range []string{"> 0  none", "Hold on to:", "How does the dancer rise?", "Is the floor", "Is the dancer warmed up?", "Body weight", "Begin?"} {
		press(asked)
	}
	code, rest := regexp.MustCompile(`> y  [ABC]`), regexp.MustCompile(`space goes on`)
	var measured []time.Duration
	for range 6 {
		press("> g  go: both strips are fixed")
		for pressing := false; !pressing; time.Sleep(10 * time.Millisecond) {
			now := x.text()
			pressing = strings.Contains(now, "kPa") // the live view
			for _, asked := range []*regexp.Regexp{code, rest} {
				if asked.MatchString(now) {
					x.types(next)
					keys++
					require.Eventually(t, func() bool { return !asked.MatchString(x.text()) }, patience, 10*time.Millisecond)
				}
			}
		}
		for _, asked := range []string{"Tug at each strip", "space next: end this"} {
			press(asked)
			atShoes++
		}
		begun := time.Now()
		x.shows("> that is all")
		measured = append(measured, time.Since(begun))
		for _, asked := range []string{"> that is all", "> 3  3 fair", "> that is all", "> 0  none", "> u  use"} {
			press(asked)
		}
	}
	person := time.Duration((mentalS + keystrokeS) * float64(time.Second)) // for one answer
	x.shows("Which shoe do you choose?")
	time.Sleep(person)
	press("Which shoe do you choose?")
	x.shows("> 0  none")
	time.Sleep(person)
	begun := time.Now()
	press("> 0  none")
	x.shows("compare --dancer R1")
	answer := time.Since(begun)
	require.Equal(t, exitDone, x.ends())
	lines := strings.Split(strings.TrimSpace(x.text()), "\n")
	frame := 0
	for i := len(lines) - 1; i >= 0 && strings.TrimSpace(lines[i]) != ""; i-- {
		frame++
	}
	assert.LessOrEqual(t, frame, 12)
	const typed = "aplomb fitting --dancer D7 --shoes A,B,C"
	assert.Less(t, len(typed), 60)
	hands := float64(len(typed)+1)*keystrokeS + mentalS + homingS + float64(keys)*(keystrokeS+mentalS) + float64(2*atShoes)*homingS
	t.Logf("characters to start %d; single keys after %d, %d of them with hands on the shoes; by the keystroke-level model %.0f s", len(typed), keys, atShoes, hands)
	t.Logf("from the end of a recording to the next question: %v; from the last key to the answer: %v; lines of the answer: %d\n%s", measured, answer, frame, x.text())
}
