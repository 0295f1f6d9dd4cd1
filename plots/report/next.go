package report

import (
	"slices"
	"strings"

	"aplomb/analyze/advise"
	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
)

// maxOptions is the number of options that the fitting sheet has room for.
const maxOptions = 3

// maxOptionsOfMany is the same with more than two shoes.
const maxOptionsOfMany = 2

// next is the advice on the fitting sheet.
type next struct {
	Intro   string
	Options []option
}

// option is a change to try, in words.
type option struct {
	Text, Foot string
	Sign       string // sign that it helped
	Evidence   string // for or against it in the shoes tried; empty where there is none
}

// nextOf returns the advice on what to try next, shortened to fit on the sheet. It is nil
// where there is no advice.
func nextOf(d Data) *next {
	if stopOf(d) != "" {
		return nil // the sheet begins with the advice to stop, and nothing is tried against pain
	}
	c := d.Comparison
	chosen := choiceOf(c)
	if o := openFor(c, chosen); o != nil {
		return &next{Intro: measureAgain(c, chosen, o)}
	}
	a, err := advise.Next(c, chosen, d.Seen)
	if err != nil {
		return nil // no advice can be given
	}
	if a.Answer != "" {
		fine := alsoFine(c, a.Shoe, chosen)
		key := "fitting next answer"
		if len(fine) > 1 {
			key = "fitting next answers"
		}
		return &next{Intro: plain(c, say(key, namedShoes(fine), a.Answer))}
	}
	n := &next{Intro: say("fitting next from", plain(c, a.Shoe))}
	most := maxOptions
	if code, _, _ := roomFor(c); code < maxCode {
		most = maxOptionsOfMany
	}
	for _, o := range offers(a, most) {
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

// choiceOf returns the label of the shoe that the fitter chose last, "" where there is none
// that was measured.
func choiceOf(c *compare.Comparison) (label string) {
	for _, v := range c.VisitRecords {
		for _, f := range c.Shoes {
			if v.Choice != "" && f.Profile.Code == v.Choice {
				label = f.Shoe
				break
			}
		}
	}
	return label
}

// openFor returns the open question whether the load sits over the box in a shoe, nil
// where there is none.
func openFor(c *compare.Comparison, label string) *compare.Open {
	if !slices.ContainsFunc(c.Shoes, func(f compare.ShoeFoot) bool {
		return f.Shoe == label && (f.Verdict == measure.TooCloseToCall || !judged(&f))
	}) {
		return nil
	}
	for _, kind := range []compare.OpenKind{compare.NotJudged, compare.NotTold} {
		for _, o := range c.Parts.Open {
			if o.Kind == kind && (slices.Contains(o.Shoes, label) || o.Front == label) {
				return o
			}
		}
	}
	return &compare.Open{Kind: compare.NotJudged, Shoes: []string{label}}
}

// measureAgain returns the advice to measure a shoe again, with the reason.
func measureAgain(c *compare.Comparison, label string, o *compare.Open) string {
	name := plain(c, label)
	more := o.Mountings - o.Mounted
	switch {
	case o.Hopeless:
		return say("fitting next hopeless", name)
	case more > 1 && o.Mounted > 0:
		return say("fitting next times", name, more) + " " + say("fitting next why")
	}
	return say("fitting next measure", name) + " " + say("fitting next why")
}

// alsoFine returns a shoe and, unless it was chosen, those that are over the box on the
// same feet and than which it is not better.
func alsoFine(c *compare.Comparison, label, chosen string) []string {
	all := []string{label}
	if label == chosen {
		return all
	}
	over := func(label string) (feet [2]bool) {
		for _, f := range c.Shoes {
			if f.Shoe == label && judged(&f) && f.Verdict == measure.OverTheBox {
				feet[f.Foot] = true
			}
		}
		return feet
	}
	for _, f := range c.Shoes {
		if !slices.Contains(all, f.Shoe) && over(f.Shoe) == over(label) {
			all = append(all, f.Shoe)
		}
	}
	return all
}

// offer is an option with the feet that it is for. A nil foot stands for both feet
// together. Its Score is the sum over the feet.
type offer struct {
	advise.Option
	feet []*device.Foot
}

// offers returns the options that fit on the sheet: the best option of every finding
// before the second best of any. An option for both feet is returned once.
func offers(a *advise.Advice, room int) (out []*offer) {
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
			case len(out) < room:
				out = append(out, &offer{one, []*device.Foot{f.Foot}})
			}
		}
	}
	return out
}

// evidence returns in words whether the shoes tried support an option or not, or what
// else changed in those that are no evidence.
func evidence(o advise.Option) string {
	switch {
	case o.Score > 0:
		return say("fitting for")
	case o.Score < 0:
		return say("fitting against")
	case len(o.Together) > 0:
		return say("fitting together", strings.ReplaceAll(strings.Join(o.Together, ", "), say("unit in name"), ""))
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
