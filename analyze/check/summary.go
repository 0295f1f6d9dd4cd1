package check

import (
	"fmt"
	"slices"
	"strings"
)

// Judgement returns in words whether the recording is whole and can be trusted.
func (r *Report) Judgement() string {
	switch {
	case r.Whole && r.Trusted:
		return "whole"
	case r.Whole:
		return "whole, but not to be trusted"
	case r.Trusted:
		return "not whole, but what is there can be trusted"
	}
	return "not whole"
}

// Summary returns the judgement in one line, with the first finding that makes a number
// unreliable, and how many more there are.
func (r *Report) Summary() string {
	grave := slices.DeleteFunc(slices.Clone(r.Findings), func(f Finding) bool { return !f.Grave })
	if len(grave) == 0 {
		return r.Judgement()
	}
	said := fmt.Sprintf("%s: %s", r.Judgement(), grave[0].Text)
	if about := grave[0].About; about == "left" || about == "right" {
		said = fmt.Sprintf("%s: %s foot, %s", r.Judgement(), about, grave[0].Text)
	}
	if n := len(grave) - 1; n > 0 {
		said += fmt.Sprintf("; and %d more", n)
	}
	return strings.TrimSuffix(said, ".")
}
