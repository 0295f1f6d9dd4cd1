package main

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/analyze/plan"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
)

// planFlags are the values of the flags that describe a plan.
type planFlags struct {
	shoes              []string
	study              []string
	releves, mountings int
	seed               uint64
	feet               string // both, left, right; "" according to the strips of the logbook
	asJSON             *bool
}

func newVisitPlan(now func() time.Time) *cobra.Command {
	var o visitFlag
	var p planFlags
	cmd := &cobra.Command{
		Use:   "plan [VISIT] --dancer CODE --shoes A,B,C",
		Short: "Plan the order of shoes, and estimate what the visit can show",
		Long: `Plan the order in which shoes are tried in a visit, and say beforehand
what that can show: the smallest difference in over between two shoes that will
be called clear four times in five, from how well mountings repeat and how much
this dancer's relevés have scattered so far, and how much more relevés or
mountings would improve it.

How well mountings repeat comes from this logbook only: from the dancer's own
mountings; where they are few, also from the latest of other dancers, or from
our assumption. A file made by aplomb reliability --json is for aplomb track.

A step is done when each foot has its relevés in one mounting of the strips. A
recording without a measured relevé is kept but does not count.

The order is mirrored (A B C, C B A), so that warming up and tiring favour no
shoe; the first shoe is chosen at random. The plan is kept with the visit and
replaces an earlier one: record then says what comes next, and aplomb visit show
how far the plan is done. The shoes have to be in the logbook. A warning names
the strips that are too small for one of them, as aplomb shoe add does.

With --study each dancer gets a row of Williams squares, in which every shoe
follows every other equally often; nothing is kept.`,
		Example: `  aplomb visit plan --dancer D7 --shoes A,B,C --releves 5 --mountings 2
  aplomb visit plan 2026-03-14 --dancer D7 --shoes A,B --mountings 3 --seed 7
  aplomb visit plan --study D1,D2,D3,D4 --shoes A,B,C,D`,
		Args:              atMostOneArg,
		ValidArgsFunction: completeCodes(visitNames),
	}
	o.add(cmd)
	p.asJSON = jsonFlag(cmd)
	f := cmd.Flags()
	f.StringArrayVar(&p.shoes, "shoes", nil, "`CODES` of the shoes, with commas between; or once for each shoe")
	f.IntVar(&p.releves, "releves", 5, "`NUMBER` of relevés in every mounting")
	f.IntVar(&p.mountings, "mountings", 2, "`NUMBER` of times that the strips are mounted under each shoe")
	f.StringVar(&p.feet, "feet", "", "`FEET` to be recorded: both, left, right; default those that the logbook has strips for")
	f.Uint64Var(&p.seed, "seed", 0, "`NUMBER` that decides which shoe begins; default random")
	f.StringArrayVar(&p.study, "study", nil, "`CODES` of the dancers of a study, who all try the shoes once")
	complete(cmd, "shoes", completeCodes(shoeCodes))
	complete(cmd, "study", completeCodes(dancerCodes))
	for _, name := range []string{"releves", "mountings", "seed", "feet"} {
		complete(cmd, name, cobra.NoFileCompletions)
	}
	var folder lookup.Folder
	logbookFlag(cmd, &folder)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if len(p.shoes) == 0 {
			return usage.Errorf("--shoes CODES is missing: which shoes are to be tried, such as A,B,C")
		}
		if !cmd.Flags().Changed("seed") {
			p.seed = rand.Uint64N(1_000_000) // short enough to type
		}
		if len(p.study) > 0 {
			return p.forStudy(cmd, args)
		}
		return folder.With(func(l *logbook.Logbook) error {
			v, err := o.find(cmd, l, args, now)
			if err != nil {
				return err
			}
			d, err := l.Dancer(v.Dancer)
			if err := cmp.Or(err, lookup.CheckConsent(d)); err != nil {
				return err
			}
			return p.forVisit(cmd, l, v)
		})
	}
	return cmd
}

// forVisit makes a plan, stores it with the visit and prints it with its detectable
// difference.
func (p planFlags) forVisit(cmd *cobra.Command, l *logbook.Logbook, v logbook.Visit) error {
	w := cmd.OutOrStdout()
	shoes, err := lookup.Shoes(l, p.shoes)
	if err != nil {
		return err
	}
	made, err := plan.Mirrored(shoes, p.mountings, p.releves, p.seed)
	if err != nil {
		return usage.New(err)
	}
	if made.Feet, err = plannedFeet(l, p.feet); err != nil {
		return err
	}
	noise, err := l.NoiseOver(v.Dancer)
	if err != nil {
		return err
	}
	if err := l.PutPlan(v.ID, made); err != nil {
		return err
	}
	if *p.asJSON {
		return cmp.Or(output.JSON(w, output.PlanJSON(v, made, noise)), p.warn(cmd, l, shoes))
	}
	output.Stop(w, v.Advice())
	fmt.Fprintf(w, "plan of visit %s of dancer %s, seed %d\n", v.Name(), v.Dancer, made.Seed)
	for i, s := range made.Steps {
		fmt.Fprintln(w, text.Item(fmt.Sprintf("%3d. ", i+1), s.Text()))
	}
	fmt.Fprintf(w, "%s\n\n", text.Wrap(made.Balance()))
	fmt.Fprintln(w, text.Wrap(noise.RestsOn()))
	if len(shoes) > 1 {
		output.Detectable(w, made, noise)
	}
	return p.warn(cmd, l, shoes)
}

// warn prints which strips of the logbook are too small for the shoes of a plan.
func (p planFlags) warn(cmd *cobra.Command, l *logbook.Logbook, shoes []string) error {
	var tried []logbook.Shoe
	for _, code := range shoes {
		s, err := l.Shoe(code)
		if err != nil {
			return err
		}
		tried = append(tried, s)
	}
	return warnTooSmall(cmd, l, tried...)
}

// plannedFeet returns the feet given by name (both, left or right), else those for which
// the logbook has strips; both where it has none.
func plannedFeet(l *logbook.Logbook, named string) (feet [2]bool, err error) {
	switch strings.ToLower(named) {
	case "":
	case "both":
		return [2]bool{true, true}, nil
	case device.Left.String():
		return [2]bool{device.Left: true}, nil
	case device.Right.String():
		return [2]bool{device.Right: true}, nil
	default:
		return feet, usage.Errorf("--feet %.40q: both, left or right", named)
	}
	strips, err := l.Strips()
	for _, s := range strips {
		feet[s.Foot] = true
	}
	if feet == ([2]bool{}) {
		return [2]bool{true, true}, err
	}
	return feet, err
}

// forStudy prints the order of the shoes for each dancer.
func (p planFlags) forStudy(cmd *cobra.Command, args []string) error {
	for _, name := range []string{"dancer", "releves", "mountings", "feet"} {
		if cmd.Flags().Changed(name) {
			return usage.Errorf("--%s and --study do not go together: a study only gives each dancer an order of the shoes", name)
		}
	}
	if len(args) > 0 {
		return usage.Errorf("%q is not expected here: a study belongs to no visit", args[0])
	}
	w := cmd.OutOrStdout()
	var dancers, shoes []string
	for _, one := range p.study {
		dancers = append(dancers, lookup.List(one)...)
	}
	for _, one := range p.shoes {
		shoes = append(shoes, lookup.List(one)...)
	}
	for i, d := range dancers {
		if d == "" {
			return usage.Errorf("--study %s: a dancer without a code", strings.Join(p.study, ","))
		}
		for _, other := range dancers[:i] {
			if d == other {
				return usage.Errorf("--study %s: dancer %s is named twice", strings.Join(p.study, ","), d)
			}
		}
	}
	study, err := plan.Williams(shoes, len(dancers), p.seed)
	if err != nil {
		return usage.New(err)
	}
	if *p.asJSON {
		return output.JSON(w, output.StudyJSON(dancers, study, p.seed))
	}
	headings := []string{"dancer"}
	for i := range shoes {
		headings = append(headings, strconv.Itoa(i+1))
	}
	var rows [][]string
	for i, order := range study.Orders {
		rows = append(rows, append([]string{dancers[i]}, order...))
	}
	fmt.Fprintf(w, "order of the shoes, seed %d\n", p.seed)
	text.Table(w, headings, rows)
	fmt.Fprintln(w, text.Wrap(study.Text()))
	return nil
}
