package main

import (
	"cmp"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/compare"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/liveview"
	"aplomb/cmd/internal/secondscreen"
	"aplomb/cmd/internal/usage"
)

// The values of --screen.
const (
	screenOff  = ""
	screenHere = "here" // on the loopback address
	screenLAN  = "lan"
)

// screenFlag adds --screen, with lan as an optional value, to a command without
// arguments.
func screenFlag(cmd *cobra.Command, to *string) {
	cmd.Flags().StringVar(to, "screen", screenOff, "show in a browser how it goes: on this computer, or with `lan` in the local network")
	cmd.Flags().Lookup("screen").NoOptDefVal = screenHere
	complete(cmd, "screen", completeWords(screenHere, screenLAN))
	cmd.Args = func(cmd *cobra.Command, args []string) error {
		if len(args) > 0 && args[0] == screenLAN && *to == screenHere {
			*to, args = screenLAN, args[1:]
		}
		if len(args) > 0 && *to == screenHere {
			*to = args[0]
		}
		if *to != screenOff && *to != screenHere && *to != screenLAN {
			return usage.Errorf("--screen %.40q: lan, or nothing for this computer alone", *to)
		}
		return noArgs(cmd, args)
	}
}

// startScreen starts the second screen requested by --screen, nil for none, and prints
// its address. With wait it waits until a user at a terminal has read that.
func startScreen(cmd *cobra.Command, mode string, wait bool) (*secondscreen.Server, error) {
	if mode == screenOff {
		return nil, nil
	}
	s, err := secondscreen.Start(mode == screenLAN)
	if err != nil {
		return nil, err
	}
	on, attended := liveview.Possible(cmd.ErrOrStderr())
	s.Announce(cmd.ErrOrStderr(), attended)
	if attended && wait {
		if err := console.WaitForEnter(cmd.Context(), on, "Enter begins the recording."); err != nil {
			s.Close()
			return nil, err
		}
	}
	return s, nil
}

// feedbackWith returns the default for what the dancer sees of the numbers with a second
// screen: each relevé after it. A stated value takes precedence.
func feedbackWith(screen, stated string) string {
	if screen == screenOff {
		return stated
	}
	return cmp.Or(stated, "after")
}

// fittingScreen is the second screen of a guided fitting. Methods that show something do
// nothing where it is nil.
type fittingScreen struct {
	*secondscreen.Server
	made []int64                       // ids of the recordings, in order
	of   map[int64][]secondscreen.Shoe // what each of them showed
}

// shoes returns each shoe with its last recording, in the order of their first
// recordings.
func (s *fittingScreen) shoes() (all []secondscreen.Shoe) {
	for _, id := range s.made {
		for _, shoe := range s.of[id] {
			i := slices.IndexFunc(all, func(one secondscreen.Shoe) bool { return one.Code == shoe.Code })
			if i < 0 {
				all = append(all, shoe)
			} else {
				all[i] = shoe
			}
		}
	}
	return all
}

// add shows the shoes including those of a recording that was measured, for the first
// time or again, side by side.
func (s *fittingScreen) add(id int64, c *compare.Comparison) {
	if s == nil {
		return
	}
	if s.of[id] == nil {
		s.made = append(s.made, id)
	}
	s.of[id] = secondscreen.ShoesOf(c)
	s.rest(time.Time{})
}

// rest shows the time until the end of a rest, none with the zero time.
func (s *fittingScreen) rest(end time.Time) {
	if s != nil {
		s.Publish(secondscreen.State{Stage: secondscreen.Between, Feedback: "after", RestEnds: end, Shoes: s.shoes()})
	}
}

// end shows the answer's shoes side by side, to the dancer too.
func (s *fittingScreen) end(c *compare.Comparison) {
	if s != nil {
		s.Publish(secondscreen.State{Stage: secondscreen.Done, Feedback: "after", Shoes: secondscreen.ShoesOf(c)})
	}
}
