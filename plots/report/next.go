package report

import (
	"slices"
	"strings"

	"aplomb/analyze/advise"
	"aplomb/device"
)

// mostOptions is how many options the fitting sheet has room for.
const mostOptions = 3

// next is what common practice would look at next, as the fitting sheet says it.
type next struct {
	Intro   string
	Options []option
}

type option struct {
	Text, Foot, Watch string
	Shown             string // what the shoes tried have shown of it, "" where nothing
}

// whatNext asks for advice and keeps of it what fits: the best option of each
// finding before any second one, an option of both feet once. Nil where there is
// nothing to say.
func whatNext(d Data) *next {
	a, err := advise.Next(d.Comparison, "", d.Seen)
	if err != nil {
		return nil // there is nothing to go on
	}
	if d.Seen.Pain {
		return &next{Intro: a.Notices[0]}
	}
	n := &next{Intro: say("fitting next from", shortened(a.Shoe, 60))}
	for _, o := range offers(a) {
		n.Options = append(n.Options, option{
			Text: o.Text, Foot: onFeet(o.feet), Watch: say("fitting watch", o.Watch), Shown: shown(o.Score),
		})
	}
	if len(n.Options) > 0 {
		return n
	}
	for _, f := range a.Findings {
		for _, open := range f.Open {
			return &next{Intro: strings.ToUpper(open[:1]) + open[1:] + "."}
		}
	}
	return nil
}

// offer is an option with the feet it is for; nil stands for both together. Its
// Score is that of all of them.
type offer struct {
	advise.Option
	feet []*device.Foot
}

func offers(a *advise.Advice) (out []*offer) {
	most := 0
	for _, f := range a.Findings {
		most = max(most, len(f.Options))
	}
	for rank := range most {
		for _, f := range a.Findings {
			if rank >= len(f.Options) {
				continue
			}
			one := f.Options[rank]
			i := slices.IndexFunc(out, func(o *offer) bool { return o.Text == one.Text })
			switch {
			case i >= 0:
				out[i].Score += one.Score
				out[i].feet = append(out[i].feet, f.Foot)
			case len(out) < mostOptions:
				out = append(out, &offer{one, []*device.Foot{f.Foot}})
			}
		}
	}
	return out
}

func shown(score int) string {
	switch {
	case score > 0:
		return say("fitting for")
	case score < 0:
		return say("fitting against")
	}
	return ""
}

// onFeet says for which feet an option was offered.
func onFeet(feet []*device.Foot) string {
	if len(feet) == 1 && feet[0] != nil {
		return say("fitting next foot", footName(*feet[0]))
	}
	return say("fitting next feet")
}
