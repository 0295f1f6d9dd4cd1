package report

import (
	"slices"
	"strings"

	"aplomb/analyze/measure"
	"aplomb/plots/words"
)

// recorded returns the date of a fitting, the amount recorded, and the conditions.
func recorded(d Data) []string {
	all := days(d)
	if n := len(d.Results); n > 0 {
		all = append(all, words.Count(n, say("recording"), say("recordings")))
	}
	if n := countReleves(d.Results); n > 0 {
		all = append(all, words.Count(n, say("lab releve"), say("lab releves")))
	}
	if under := underWhat(d.Results); under != nil {
		all = append(all, say("lab conditions", joined(under...)))
	}
	return all
}

// days returns the day of the recordings, or the first and the last of them; none where no
// recording has one.
func days(d Data) []string {
	var all []string
	times := slices.Clone(d.Results)
	slices.SortStableFunc(times, func(a, b *measure.Result) int { return a.Meta.Started.Compare(b.Meta.Started) })
	for _, r := range times {
		if !r.Meta.Started.IsZero() {
			all = append(all, r.Meta.Started.UTC().Format(say("date")))
		}
	}
	switch all = slices.Compact(all); {
	case len(all) > 1:
		return []string{say("progress span", all[0], all[len(all)-1])}
	default:
		return all
	}
}

// countReleves returns the number of relevés measured, where a rise on both feet counts
// once.
func countReleves(results []*measure.Result) (n int) {
	for _, r := range results {
		seen := map[int]bool{}
		for _, rel := range r.Releves {
			if rel.Hold != nil && !rel.Discarded {
				seen[rel.N] = true
			}
		}
		n += len(seen)
	}
	return n
}

// underWhat returns the conditions of the recordings. A condition that differs between
// them is listed with all its values.
func underWhat(results []*measure.Result) (all []string) {
	for _, c := range []struct {
		key string
		of  func(*measure.Result) string
	}{
		{"support", func(r *measure.Result) string { return r.Meta.Support }},
		{"rise", func(r *measure.Result) string { return r.Meta.Rise }},
		{"position", func(r *measure.Result) string { return r.Meta.Position }},
		{"floor", func(r *measure.Result) string { return r.Meta.Floor }},
		{"feedback", func(r *measure.Result) string { return r.Meta.Feedback }},
	} {
		var values []string
		for _, r := range results {
			if v := c.of(r); !slices.Contains(values, v) {
				values = append(values, v)
			}
		}
		if len(values) == 1 && values[0] == "" || len(values) == 0 {
			continue
		}
		for i, v := range values {
			if v == "" {
				values[i] = say("lab not said")
			}
		}
		all = append(all, say(c.key, strings.Join(values, say("lab or"))))
	}
	return all
}
