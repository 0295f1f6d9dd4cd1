package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/sim"
)

func newSim() *cobra.Command {
	var stripFile, shoeFile, path, truth string
	var seed uint64
	var rate, over, medial float64
	dancer := sim.DefaultDancer()
	cmd := &cobra.Command{
		Use:   "sim",
		Short: "Simulate a strip on a pseudo-terminal, to record from",
		Long: `Simulate a strip on a pseudo-terminal, to record from.

A dancer who is not there rises and lowers on a platform that is not there, a
rigid one on an elastic bed, and a strip with noise, drift and uneven cells
sends what it reads as a real one would, until Ctrl-C. Nothing that it sends
says anything about any shoe.`,
		Example: `  aplomb sim --strip left.toml --link /tmp/left
  aplomb record --strip left.toml --shoe A.toml --left /tmp/left --for 30s \
      --out try.mcap`,
		Args:              none,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := needed(cmd, "strip", "link"); err != nil {
				return err
			}
			strip, err := device.ReadStrip(cmd.Context(), stripFile)
			if err != nil {
				return err
			}
			shoe := &device.Shoe{Code: "sim", PlatformMM: [2]float64{38, 23}, OutlineExponent: 3}
			if shoeFile != "" {
				if shoe, err = device.ReadShoe(cmd.Context(), shoeFile); err != nil {
					return err
				}
			}
			setup := sim.Setup{Seed: seed, Start: time.Now(), RateHz: rate, Dancer: dancer, Faults: sim.DefaultFaults()}
			setup.Faults.GainSD = strip.Calibration.GainSD
			setup.Feet[strip.Foot] = &sim.Foot{
				Strip: strip, Shoe: shoe,
				Stand: sim.Stand{CoPMM: platform.Point{medial, over}, ScatterSD: 0.5},
			}
			session, err := sim.NewSession(setup)
			if err != nil {
				return misuse{err}
			}
			if truth != "" {
				if err := vacant(truth); err != nil {
					return err
				}
			}
			line, err := sim.OpenLine(path)
			if err != nil {
				return err
			}
			defer line.Close()
			fmt.Fprintf(cmd.ErrOrStderr(), "strip %s (%s) sends %g frames/s on %s; Ctrl-C ends it\n", strip.Name, strip.Foot, rate, path)
			lines := [2]*sim.Line{}
			lines[strip.Foot] = line
			err = sim.Serve(cmd.Context(), session, lines, sim.RealTime())
			if err != nil && !errors.Is(err, context.Canceled) {
				return err
			}
			if truth == "" {
				return nil
			}
			return writeBeside(truth, session.WriteTruth)
		},
	}
	f := cmd.Flags()
	f.StringVar(&stripFile, "strip", "", "strip profile `FILE`")
	f.StringVar(&shoeFile, "shoe", "", "shoe `FILE`; default a platform of 38 × 23 mm")
	f.StringVar(&path, "link", "", "`PATH` at which the port appears")
	f.StringVar(&truth, "truth", "", "`FILE` to write at the end: what truly happened, JSON Lines")
	f.Uint64Var(&seed, "seed", 1, "another `NUMBER`, another dancer")
	f.Float64Var(&rate, "rate", 200, "`FRAMES` a second")
	f.IntVar(&dancer.Rises, "rises", 0, "`NUMBER` of relevés; default until Ctrl-C")
	f.Float64Var(&over, "over", -2, "where the dancer stands, `MM` towards the front")
	f.Float64Var(&medial, "medial", 0, "where the dancer stands, `MM` towards the big toe")
	complete(cmd, "strip", endingIn("toml"))
	complete(cmd, "shoe", endingIn("toml"))
	return cmd
}
