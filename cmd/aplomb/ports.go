package main

import (
	"context"
	"errors"
	"fmt"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"aplomb/cmd/internal/files"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/platform"
	"aplomb/device/sim"
)

func newPorts() *cobra.Command {
	return &cobra.Command{
		Use:   "ports",
		Short: "List serial ports, with what is known of each",
		Long: `List serial ports, with what is known of each.

Exit status 1 where there is none.`,
		Example: `  aplomb ports
  aplomb record --left $(aplomb ports | awk 'NR == 2 {print $1}') …`,
		Args:              noArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(cmd *cobra.Command, args []string) error {
			ports, err := link.Ports()
			if err != nil {
				return err
			}
			if len(ports) == 0 {
				return errors.New("no serial port: plug a strip in; on Linux, dmesg | tail shows whether the system noticed")
			}
			t := tabwriter.NewWriter(cmd.OutOrStdout(), 0, 0, 2, ' ', 0)
			fmt.Fprintln(t, "port\tproduct\tusb id\tserial number")
			for _, p := range ports {
				id := ""
				if p.VendorID != "" {
					id = p.VendorID + ":" + p.ProductID
				}
				fmt.Fprintf(t, "%s\t%s\t%s\t%s\n", p.Name, p.Product, id, p.SerialNumber)
			}
			return t.Flush()
		},
	}
}

func newSim() *cobra.Command {
	var stripFile, shoeFile, path, truth string
	var seed uint64
	var rate, over, medial float64
	dancer := sim.DefaultDancer()
	cmd := &cobra.Command{
		Use:   "sim",
		Short: "Simulate a strip on a pseudo-terminal, to record from",
		Long: `Simulate a strip on a pseudo-terminal, to record from.

It simulates a dancer who rises and lowers on a rigid platform on an elastic
bed, and a strip with noise, drift and uneven cells, which sends its readings as
a real one would, until Ctrl-C. The numbers say nothing about any real shoe.`,
		Example: `  aplomb sim --strip left.toml --link /tmp/left
  aplomb record --strip left.toml --shoe A.toml --left /tmp/left --for 30s \
      --out try.mcap`,
		Args:              noArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := requireFlags(cmd, "strip", "link"); err != nil {
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
				return usage.New(err)
			}
			if truth != "" {
				if err := files.CheckVacant(truth); err != nil {
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
			return files.Write(truth, session.WriteTruth)
		},
	}
	f := cmd.Flags()
	f.StringVar(&stripFile, "strip", "", "strip profile `FILE`")
	f.StringVar(&shoeFile, "shoe", "", "shoe `FILE`; default a platform of 38 × 23 mm")
	f.StringVar(&path, "link", "", "`PATH` at which the port appears")
	f.StringVar(&truth, "truth", "", "`FILE` to write at the end: what truly happened, JSON Lines")
	f.Uint64Var(&seed, "seed", 1, "`NUMBER` that the random part follows from; another gives another dancer")
	f.Float64Var(&rate, "rate", 200, "`FRAMES` a second")
	f.IntVar(&dancer.Rises, "rises", 0, "`NUMBER` of relevés; default until Ctrl-C")
	f.Float64Var(&over, "over", -2, "where the dancer stands, `MM` towards the front")
	f.Float64Var(&medial, "medial", 0, "where the dancer stands, `MM` towards the big toe")
	complete(cmd, "strip", completeFiles("toml"))
	complete(cmd, "shoe", completeFiles("toml"))
	return cmd
}
