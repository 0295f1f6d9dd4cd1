package report

import (
	"slices"
	"strings"

	"aplomb/analyze/advise"
	"aplomb/device"
)

// maxOptions is the number of options that the fitting sheet has room for.
const maxOptions = 3

// next is the advice on the fitting sheet.
type next struct {
	Intro   string
	Options []option
}

// option is a change to try, in words.
type option struct {
	Text, Foot string
	Sign       string // that it helped
	Evidence   string // for or against it in the shoes tried; empty where there is none
}

// nextOf returns the advice on what to try next, shortened to what fits on the
// sheet. It is nil where there is no advice.
func nextOf(d Data) *next {
	if stopOf(d) != "" {
		return nil // the sheet begins with it, and nothing is tried against pain
	}
	a, err := advise.Next(d.Comparison, "", d.Seen)
	if err != nil {
		return nil // no advice can be given
	}
	if a.Answer != "" {
		return &next{Intro: say("fitting next answer", shortened(a.Shoe, maxCode), a.Answer)}
	}
	n := &next{Intro: say("fitting next from", shortened(a.Shoe, maxCode))}
	for _, o := range offers(a) {
		one := option{Text: o.Text, Foot: onFeet(o.feet), Evidence: evidence(o.Option)}
		if o.Sign != "" {
			one.Sign = say("fitting sign", o.Sign)
		}
		n.Options = append(n.Options, one)
	}
	if len(n.Options) > 0 {
		return n
	}
	return &next{Intro: say("fitting next open")}
}

// offer is an option with the feet that it is for. A nil foot stands for both feet
// together. Its Score is the sum over the feet.
type offer struct {
	advise.Option
	feet []*device.Foot
}

// offers returns the options that the sheet has room for: the best option of every
// finding before the second best of any. An option for both feet is returned once.
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
				if out[i].Together == nil {
					out[i].Together = one.Together
				}
				out[i].feet = append(out[i].feet, f.Foot)
			case len(out) < maxOptions:
				out = append(out, &offer{one, []*device.Foot{f.Foot}})
			}
		}
	}
	return out
}

// evidence returns in words whether the shoes tried speak for or against an option, or
// what else changed in those that say nothing of it.
func evidence(o advise.Option) string {
	switch {
	case o.Score > 0:
		return say("fitting for")
	case o.Score < 0:
		return say("fitting against")
	case len(o.Together) > 0:
		return say("fitting together", strings.Join(o.Together, ", "))
	}
	return ""
}

// onFeet returns in words which feet an option is for.
func onFeet(feet []*device.Foot) string {
	if len(feet) == 1 && feet[0] != nil {
		return say("fitting next foot", footName(*feet[0]))
	}
	return say("fitting next feet")
}
