package output

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/text"
	"aplomb/plots/words"
)

// An answer must be readable at a glance and stay on the screen: it has at most
// frameLines lines of frameColumns columns.
const (
	frameLines   = 12
	frameColumns = 80
)

// Frame prints the answer of a comparison in at most frameLines lines: the advice to stop
// where there is one, the headline, a line for each shoe and foot, and where to find the
// rest. A warning that may have changed the answer follows the line that it is about;
// assumptions are one line; warnings for the record are left out.
func Frame(w io.Writer, c *compare.Comparison, rest string) {
	foot := wrapped(rest)
	if assumed := words.Assumed(c.Warnings); assumed != "" {
		foot = append([]string{cut(assumed + ".")}, foot...)
	}
	head := wrapped(c.Answer)
	if c.Stop != "" { // comes first, and is printed once
		head = append(append(wrapped(c.Stop), ""), wrapped(strings.TrimSuffix(c.Answer, compare.Stop))...)
	}
	if most := frameLines - len(foot) - 1; len(head) > most {
		head = append(head[:most-1], cut(head[most-1]+" …"))
	}
	room := frameLines - len(head) - len(foot)
	body := fullBody(c, wrapped)
	if len(body) > room {
		body = fullBody(c, func(said string) []string { return []string{cut(said)} })
	}
	if len(body) > room {
		left := body[max(0, room-1):]
		more := words.Count(len(left), "line more", "lines more")
		if n := len(slices.DeleteFunc(slices.Clone(left), func(line string) bool { return !strings.Contains(line, warningMark) })); n > 0 {
			more += ", " + words.Count(n, "warning", "warnings") + " among them"
		}
		body = append(body[:max(0, room-1)], "… and "+more)
	}
	for _, line := range slices.Concat(head, body, foot) {
		fmt.Fprintln(w, line)
	}
}

// warningMark begins a warning.
const warningMark = "warning: "

// fullBody returns the lines about the shoes, with the warnings that may have changed the
// answer. lines makes lines of a warning.
func fullBody(c *compare.Comparison, lines func(string) []string) (body []string) {
	changing := measure.OfClass(c.Warnings, measure.ChangesAnswer)
	of := func(s *compare.ShoeFoot, one measure.Warning) bool {
		return one.Foot == s.Foot.String() && one.Values.Shoe == s.Shoe
	}
	shoes := inOrder(c)
	for _, one := range changing {
		if !slices.ContainsFunc(shoes, func(s compare.ShoeFoot) bool { return of(&s, one) }) {
			body = append(body, lines(warningMark+words.Warning(one))...)
		}
	}
	wide := 0
	for _, s := range shoes {
		wide = max(wide, len([]rune(shortened(s.Shoe))))
	}
	for i, s := range shoes {
		body = append(body, cut(shoeLine(s, wide)))
		again := i+1 < len(shoes) && shoes[i+1].Shoe == s.Shoe && shoes[i+1].Foot == s.Foot // under other conditions
		for _, one := range changing {
			if of(&s, one) && !again {
				body = append(body, lines(warningMark+words.Warning(one))...)
			}
		}
	}
	return body
}

// inOrder returns the shoes by their places where the comparison ranks them, otherwise in
// its order.
func inOrder(c *compare.Comparison) []compare.ShoeFoot {
	place := map[string]int{}
	for i, s := range c.Ranking {
		place[s.Shoe] = i
	}
	shoes := slices.Clone(c.Shoes)
	slices.SortStableFunc(shoes, func(a, b compare.ShoeFoot) int { return cmp.Compare(place[a.Shoe], place[b.Shoe]) })
	return shoes
}

// wrapped returns the lines of a text, each of at most frameColumns columns.
func wrapped(said string) []string {
	lines := strings.Split(text.Wrap(said), "\n")
	for i := range lines { // a code of a shoe can be longer than a line
		lines[i] = cut(lines[i])
	}
	return lines
}

// cut returns a line of at most frameColumns columns.
func cut(line string) string {
	if r := []rune(line); len(r) > frameColumns {
		return string(r[:frameColumns-1]) + "…"
	}
	return line
}

// shortened returns the code of a shoe with an ellipsis in the middle where the verdict
// would not fit beside it.
func shortened(code string) string {
	const maxRunes = 20
	r := []rune(code)
	if len(r) <= maxRunes {
		return code
	}
	return string(r[:maxRunes/2]) + "…" + string(r[len(r)-maxRunes/2+1:])
}

// shoeLine returns the line of a shoe and foot; wide is the length of the longest code.
func shoeLine(s compare.ShoeFoot, wide int) string {
	over := s.Measures[measure.Over]
	return fmt.Sprintf("%-*s %-5s  over %s  %s", wide, shortened(s.Shoe), s.Foot, words.DisplayOf(measure.Over).PlusMinus(over.Mean, over.CI95),
		words.Verdict(s.Verdict, s.Misses, s.Measures[measure.Medial].Mean))
}
