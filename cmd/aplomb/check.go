package main

import (
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"aplomb/device"
	"aplomb/device/recording"
)

func newCheck() *cobra.Command {
	return &cobra.Command{
		Use:   "check FILE.mcap…",
		Short: "Say whether recordings are whole",
		Long: `Say whether recordings are whole: frames, frames lost, gaps, and the file itself.

Exit status 1 where one is not.`,
		Example: `  aplomb check a1.mcap
  aplomb check *.mcap && aplomb report *.mcap --out report.html`,
		Args: files,
		RunE: func(cmd *cobra.Command, args []string) error {
			whole := true
			for _, path := range args {
				ok, err := check(cmd.OutOrStdout(), path)
				if err != nil {
					return err
				}
				whole = whole && ok
			}
			if !whole {
				return errNo
			}
			return nil
		},
	}
}

// check reads one recording to its end and says what it holds.
func check(w io.Writer, path string) (whole bool, err error) {
	r, err := recording.Open(path)
	if err != nil {
		return false, err
	}
	defer r.Close()
	var frames, lost [2]int64
	var first, last [2]uint64
	lastSeq := [2]int64{device.NoSeq, device.NoSeq}
	var f device.Frame
	for {
		err := r.Next(&f)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return false, fmt.Errorf("%s: %w", path, err)
		}
		i := f.Foot
		if frames[i] == 0 {
			first[i] = f.TimeUS
		}
		if lastSeq[i] != device.NoSeq && f.Seq > lastSeq[i]+1 {
			lost[i] += f.Seq - lastSeq[i] - 1
		}
		lastSeq[i], last[i] = f.Seq, f.TimeUS
		frames[i]++
	}
	whole = true
	missing := r.Missing()
	if missing == "" {
		fmt.Fprintf(w, "%s: the file is whole\n", path)
	} else {
		fmt.Fprintf(w, "%s: not whole: %s\n", path, missing)
		whole = false
	}
	for _, foot := range device.Feet {
		side := r.Meta().Sides[foot]
		if side == nil {
			continue
		}
		span := float64(last[foot]-first[foot]) / 1e6
		fmt.Fprintf(w, "  %-5s  strip %s, shoe %s: %d frames in %.1f s", foot, side.Strip.Name, side.Shoe.Code, frames[foot], span)
		switch {
		case frames[foot] == 0:
			whole = false
		case lastSeq[foot] == device.NoSeq:
			fmt.Fprint(w, ", not numbered: lost ones cannot be counted")
		default:
			fmt.Fprintf(w, ", %d lost", lost[foot])
			whole = whole && lost[foot] == 0
		}
		if span > 0 {
			fmt.Fprintf(w, ", %.1f a second", float64(frames[foot]+lost[foot]-1)/span)
		}
		fmt.Fprintln(w)
		if c := side.Strip.Covers(side.Shoe.Outline()); c < 0.99 {
			fmt.Fprintf(w, "         the strip covers %.0f %% of the platform\n", 100*c)
		}
	}
	for _, e := range r.Events() {
		if e.Kind == device.Gap {
			fmt.Fprintf(w, "  %-5s  gap of %.3f s: %s\n", e.Foot, e.LengthS, e.Cause)
		}
	}
	return whole, nil
}
