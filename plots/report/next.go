package report

import (
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
	at := map[string]int{}
	feet := map[string][]*device.Foot{}
	for rank := 0; ; rank++ {
		more := false
		for _, f := range a.Findings {
			if rank >= len(f.Options) {
				continue
			}
			more = true
			o := f.Options[rank]
			if _, known := at[o.Text]; !known {
				if len(n.Options) == mostOptions {
					continue
				}
				at[o.Text] = len(n.Options)
				n.Options = append(n.Options, option{Text: o.Text, Watch: say("fitting watch", o.Watch), Shown: shown(o)})
			}
			feet[o.Text] = append(feet[o.Text], f.Foot)
		}
		if !more {
			break
		}
	}
	for text, i := range at {
		n.Options[i].Foot = onFeet(feet[text])
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

func shown(o advise.Option) string {
	switch {
	case o.Score > 0:
		return say("fitting for")
	case o.Score < 0:
		return say("fitting against")
	}
	return ""
}

// onFeet says on which foot an option was offered; nil stands for both together.
func onFeet(feet []*device.Foot) string {
	if len(feet) == 1 && feet[0] != nil {
		return say("fitting next foot", footName(*feet[0]))
	}
	return say("fitting next feet")
}
