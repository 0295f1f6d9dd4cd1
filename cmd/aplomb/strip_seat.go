package main

import (
	"fmt"
	"io"
	"math"

	"github.com/spf13/cobra"

	"aplomb/analyze"
	"aplomb/analyze/calibrate"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/plots/words"
)

func newStripSeat() *cobra.Command {
	var w workshop
	var mountings, presses int
	cmd := &cobra.Command{
		Use:   "seat [FILE.mcap…]",
		Short: "Measure how well a mounting repeats",
		Long: `Measure how well a mounting repeats, from repeated mountings.

Fix the strip under the shoe, put a weight on one and the same place of the
platform at least twice and better four times, lifting it between, take the
strip off and fix it again: six times or more. Use a jig, or a mark on the shoe;
what differs between presses of one mounting is not counted. Nobody stands on
anything.

With --port the terminal asks for one press after the other. Or record each
mounting with aplomb record, holding each press for a second or longer, and name
the recordings; several of one mounting (--same-mounting-as) count as one.

seat_sd_mm, seat_mountings and seat_dof go into the profile. Where mountings do
not differ by more than presses do, seat_sd_mm is the most that it can be.`,
		Example: `  aplomb strip seat --strip left.toml --port /dev/ttyUSB0 --mountings 6 \
      --presses 4
  aplomb strip seat --strip left.toml m1.mcap m2.mcap m3.mcap m4.mcap \
      m5.mcap m6.mcap --write`,
		Args:              cobra.ArbitraryArgs,
		ValidArgsFunction: endingIn("mcap"),
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case (len(args) > 0) == (w.port != ""):
				return misused("name either recordings of the mountings, or the strip's --port")
			case mountings < 2 || presses < 2:
				return misused("--mountings %d --presses %d: at least 2 of each", mountings, presses)
			}
			if err := w.open(cmd); err != nil {
				return err
			}
			defer w.close()
			if err := w.changeable(); err != nil {
				return err
			}
			places, names, err := w.recordedMountings(args)
			if w.guide != nil {
				places, names, err = w.guidedMountings(mountings, presses)
			}
			if err != nil {
				return err
			}
			seat, err := calibrate.Mountings(places)
			if err != nil {
				return err
			}
			printSeat(cmd.OutOrStdout(), w.strip, places, names, seat)
			return w.keep(func(s *device.Strip) error { return seat.Into(&s.Mount) }, "seat written")
		},
	}
	w.flags(cmd)
	cmd.Flags().IntVar(&mountings, "mountings", 6, "with --port, `NUMBER` of mountings to ask for")
	cmd.Flags().IntVar(&presses, "presses", 4, "with --port, `NUMBER` of presses in each")
	w.keepFlags(cmd)
	return cmd
}

// recordedMountings takes the places of presses from recordings, mounting by mounting.
func (w *workshop) recordedMountings(paths []string) (places [][]platform.Point, names []string, err error) {
	foot := w.strip.Foot
	of := map[string]int{}
	var first *device.Side
	for _, path := range paths {
		r, err := analyze.File(w.cmd.Context(), path, analyze.Options{Version: version})
		if err != nil {
			return nil, nil, err
		}
		if err := w.same(&r.Meta); err != nil {
			return nil, nil, fmt.Errorf("%s: %w", path, err)
		}
		side := r.Meta.Sides[foot]
		if first == nil {
			first = side
		}
		switch a, b := first.Strip.Mount, side.Strip.Mount; {
		case side.Shoe.Code != first.Shoe.Code:
			return nil, nil, fmt.Errorf("%s: shoe %s, before it was %s: mount the strip under one shoe for this", path, side.Shoe.Code, first.Shoe.Code)
		case a.OffsetMM != b.OffsetMM || a.RotationDeg != b.RotationDeg:
			return nil, nil, fmt.Errorf("%s: the profile had another offset or rotation than in %s: places do not compare", path, paths[0])
		}
		m, known := of[side.Mounting]
		if !known {
			m = len(places)
			of[side.Mounting], places, names = m, append(places, nil), append(names, r.Recording.File)
		}
		n := len(places[m])
		for _, one := range r.Releves {
			if one.Foot == foot && one.Status == measure.Measured && !one.Discarded {
				places[m] = append(places[m], platform.Point{one.MedialMM, one.OverMM})
			}
		}
		if len(places[m]) == n {
			return nil, nil, fmt.Errorf("%s: no press in it that was held for half a second", path)
		}
	}
	return places, names, nil
}

// guidedMountings asks for presses. Places are those on the strip, which differ
// from those on the shoe by the same in all.
func (w *workshop) guidedMountings(mountings, presses int) (places [][]platform.Point, names []string, err error) {
	places = make([][]platform.Point, mountings)
	for m := range places {
		if _, err := w.zero(fmt.Sprintf("Mounting %d of %d: fix the strip under the shoe anew, nothing on it, and press Enter.", m+1, mountings)); err != nil {
			return nil, nil, err
		}
		for p := range presses {
			t, err := w.guide.loaded(fmt.Sprintf("Press %d of %d: lift the weight, put it on the known place; when it has settled, press Enter.", p+1, presses), loadFor)
			if err != nil {
				return nil, nil, err
			}
			mean, n, err := calibrate.Settled(t.timeS, t.frames, w.guide.zero, w.strip.SaturatesAt)
			if err != nil {
				return nil, nil, err
			}
			_, at := calibrate.Feel(w.strip, mean, n)
			places[m] = append(places[m], at)
		}
		names = append(names, fmt.Sprintf("mounting %d", m+1))
	}
	return places, names, nil
}

func printSeat(out io.Writer, s *device.Strip, places [][]platform.Point, names []string, seat calibrate.Seat) {
	fmt.Fprintf(out, "strip %s, %s\n", s.Name, words.Count(seat.Mountings, "mounting", "mountings"))
	t := newTable(out)
	fmt.Fprintln(t, "mounting\tpresses\tmedial mm\tover mm\t")
	for m, at := range places {
		var mean platform.Point
		for _, p := range at {
			mean[0], mean[1] = mean[0]+p[0]/float64(len(at)), mean[1]+p[1]/float64(len(at))
		}
		fmt.Fprintf(t, "%d\t%d\t%s\t%s\t  %s\n", m+1, len(at), words.Number(mean[0], 2), words.Number(mean[1], 2), names[m])
	}
	t.Flush()
	hi := "more than can be told"
	if !math.IsInf(seat.Range.Hi, 0) {
		hi = fmt.Sprintf("%.2f", seat.Range.Hi)
	}
	fmt.Fprintf(out, "seat: %.2f mm, standard deviation of a mounting on each axis; 95 %% interval %.2f to %s mm, %.1f degrees of freedom\n", seat.SDMM, seat.Range.Lo, hi, seat.DOF)
	fmt.Fprintf(out, "medial %.2f mm, over %.2f mm; presses within a mounting differ by %.2f mm\n", seat.AxisMM[0], seat.AxisMM[1], seat.PressMM)
	printWarnings(out, seat.Warnings)
}
