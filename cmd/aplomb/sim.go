package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/seat"
	"aplomb/cmd/internal/files"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/sim"
)

// simOptions are the flags of sim other than those of the session.
type simOptions struct {
	stripFile, shoeFile, path, truth string
	physics                          string
	press, secondPress               bool
	mounting                         uint
	seatSD                           float64 // mm
	medial, over                     float64 // mm
	setup                            sim.Setup
}

// simPlatformMM is the platform of --physics, but for one.
var simPlatformMM = [2]float64{36, 22}

// simPressS is the length of each pad press of sim, s.
const simPressS = 8

func newSim() *cobra.Command {
	o := simOptions{setup: sim.Setup{Dancer: sim.DefaultDancer(), Faults: sim.DefaultFaults()}}
	cmd := &cobra.Command{
		Use:   "sim",
		Short: "Simulate a strip on a pseudo-terminal, to record from",
		Long: `Simulate a strip on a pseudo-terminal, to record from.

It simulates a dancer who rises and lowers on a rigid platform on an elastic
bed, and a strip with noise, drift and unequal cells, which sends its readings
as a real one would, until Ctrl-C. The numbers say nothing about any real shoe.

With --press the platform is first pressed on a soft pad and rocked to all
sides, and with --second-press once more after the last relevé. Another
--mounting gives another recording of the same dancer and strip, with another
seat of the strip and, according to the options that end in -sd, another place,
load and sway.

Each --physics differs from a flat platform with sharp edges that is pressed on
the strip directly: by rounded edges, pleats, a cover that spreads the pressure,
a dome, or the pad.

` + physicsList(),
		Example: `  aplomb sim --strip left.toml --link /tmp/left
  aplomb record --strip left.toml --shoe A.toml --left /tmp/left --for 30s \
      --out try.mcap
  aplomb sim --strip left.toml --link /tmp/left --press --physics rounded \
      --rises 6 --mounting 2 --recording-sd 0.3 --truth truth.jsonl`,
		Args:              noArgs,
		ValidArgsFunction: cobra.NoFileCompletions,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := requireFlags(cmd, "strip", "link"); err != nil {
				return err
			}
			strip, session, err := o.session(cmd)
			if err != nil {
				return err
			}
			if o.truth != "" {
				if err := files.CheckVacant(o.truth); err != nil {
					return err
				}
			}
			line, err := sim.OpenLine(o.path)
			if err != nil {
				return err
			}
			defer line.Close()
			fmt.Fprintf(cmd.ErrOrStderr(), "strip %s (%s) sends %g frames/s on %s; Ctrl-C ends it\n", strip.Name, strip.Foot, o.setup.RateHz, o.path)
			lines := [2]*sim.Line{}
			lines[strip.Foot] = line
			err = sim.Serve(cmd.Context(), session, lines, sim.RealTime())
			if err != nil && !errors.Is(err, context.Canceled) {
				return err
			}
			if o.truth == "" {
				return nil
			}
			everybody := files.Access{Shared: true} // simulated data name no dancer
			return everybody.Write(o.truth, session.WriteTruth)
		},
	}
	f, s := cmd.Flags(), &o.setup
	f.StringVar(&o.stripFile, "strip", "", "strip profile `FILE`")
	f.StringVar(&o.shoeFile, "shoe", "", "shoe `FILE`; default a platform of 38 × 23 mm, with --physics 36 × 22")
	f.StringVar(&o.path, "link", "", "`PATH` at which the port appears")
	f.StringVar(&o.truth, "truth", "", "`FILE` to write at the end with the true values, JSON Lines")
	f.Uint64Var(&s.Seed, "seed", 1, "`NUMBER` that the random part follows from; another gives another dancer")
	f.Float64Var(&s.RateHz, "rate", 200, "`FRAMES` a second")
	f.IntVar(&s.Dancer.Rises, "rises", 0, "`NUMBER` of relevés; default until Ctrl-C")
	f.Float64Var(&o.over, "over", -2, "place of the load, `MM` towards the front")
	f.Float64Var(&o.medial, "medial", 0, "place of the load, `MM` towards the big toe")
	f.StringVar(&o.physics, "physics", "", "`NAME` of the physics, see above; default kind")
	f.BoolVar(&o.press, "press", false, fmt.Sprintf("a pad press of %d s before the first relevé", simPressS))
	f.BoolVar(&o.secondPress, "second-press", false, "one more after the last relevé; say --rises too")
	f.Float64Var(&s.LeadInS, "wait", sim.DefaultLeadInS, "`SECONDS` without load before the press or the first relevé")
	f.UintVar(&o.mounting, "mounting", 0, "`NUMBER` of the mounting; another gives another seat and recording")
	f.Float64Var(&o.seatSD, "seat-sd", 0, "scatter of the seat between mountings, `MM`; default the profile's")
	f.Float64Var(&s.Scatter.RotationSDDeg, "rotation-sd", 0, "scatter of the seat's rotation, `DEGREES`")
	f.Float64Var(&s.Scatter.RulerSDMM, "ruler-sd", 0, "error of the platform's width and depth by the ruler, `MM`")
	f.Float64Var(&s.Scatter.RecordingSDMM, "recording-sd", 0, "scatter of the load's place between recordings, `MM`")
	f.Float64Var(&s.Scatter.RecordingLoadSD, "recording-load-sd", 0, "scatter of the load between recordings, as a `FRACTION`")
	f.Float64Var(&s.Scatter.RecordingSwaySD, "recording-sway-sd", 0, "scatter of the sway between recordings, as a `FRACTION`")
	complete(cmd, "strip", completeFiles("toml"))
	complete(cmd, "shoe", completeFiles("toml"))
	complete(cmd, "physics", completeWords(sim.ScenarioWords()...))
	return cmd
}

// physicsList lists the values of --physics, one per line.
func physicsList() string {
	var b strings.Builder
	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	for _, s := range sim.Scenarios() {
		fmt.Fprintf(t, "  %s\t%s\n", s.Word, physicsWords(s))
	}
	t.Flush()
	return strings.TrimRight(b.String(), "\n")
}

// physicsWords describes the peculiarity of a scenario.
func physicsWords(s sim.Scenario) string {
	p := s.Physics
	var all []string
	add := func(is bool, format string, args ...any) {
		if is {
			all = append(all, fmt.Sprintf(format, args...))
		}
	}
	front, back := p.RoundFrontMM, p.RoundBackMM
	add(front == back && back > 0, "rounded %g mm", back)
	add(front != back, "rounded %g mm at the back, %g mm at the front", back, front)
	add(p.PleatsMM > 0, "pleats %g mm", p.PleatsMM)
	add(p.SpreadMM > 0, "cover spreads %g mm", p.SpreadMM)
	add(p.DomeMM > 0, "dome %g mm", p.DomeMM)
	add(p.Overhang.Share > 0, "the pad bends the strip round the edge")
	add(p.TailKPa > 0, "a taut tail")
	add(p.MoveSDMM > 0, "the strip moves by %g mm after the press", p.MoveSDMM)
	add(p.Pad.ThicknessMM > 0, "a pad that stiffens")
	add(p.Pad.EdgeMM > 0, "and pulls at the edge")
	add(s.PlatformMM != simPlatformMM, "a platform of %g × %g mm", s.PlatformMM[0], s.PlatformMM[1])
	add(all == nil, "none of these")
	return strings.Join(all, ", ")
}

// session returns the strip and what the dancer does on it.
func (o *simOptions) session(cmd *cobra.Command) (*device.Strip, *sim.Session, error) {
	strip, err := device.ReadStrip(cmd.Context(), o.stripFile)
	if err != nil {
		return nil, nil, err
	}
	physics := sim.Scenario{}
	shoe := &device.Shoe{Code: "sim", PlatformMM: [2]float64{38, 23}, OutlineExponent: 3}
	if o.physics != "" {
		if physics, err = sim.ScenarioNamed(o.physics); err != nil {
			return nil, nil, usage.Errorf("--physics %.40q: one of %s", o.physics, strings.Join(sim.ScenarioWords(), ", "))
		}
		shoe = physics.Shoe()
	}
	if o.shoeFile != "" {
		if shoe, err = device.ReadShoe(cmd.Context(), o.shoeFile); err != nil {
			return nil, nil, err
		}
	}
	if cmd.Flags().Changed("seat-sd") {
		if !(o.seatSD >= 0) {
			return nil, nil, usage.Errorf("--seat-sd %v: 0 or more", o.seatSD)
		}
		strip.Mount.SeatSDMM = o.seatSD
	}
	if o.secondPress && o.setup.Dancer.Rises == 0 {
		return nil, nil, usage.Errorf("--second-press needs --rises NUMBER, the relevés before it")
	}
	setup := o.setup
	setup.Start, setup.Faults.GainSD = time.Now(), strip.Calibration.GainSD
	setup.ThresholdKPa = seat.ContactKPa
	if o.mounting > 0 {
		setup.Mounting = strconv.FormatUint(uint64(o.mounting), 10)
	}
	if o.press {
		setup.Press = physics.PadPress(simPressS)
	}
	if o.secondPress {
		setup.SecondPress = physics.PadPress(simPressS)
	}
	setup.Feet[strip.Foot] = &sim.Foot{
		Strip: strip, Shoe: shoe, Physics: physics.Physics,
		Stand: sim.Stand{CoPMM: platform.Point{o.medial, o.over}, ScatterSD: 0.5},
	}
	session, err := sim.NewSession(setup)
	if err != nil {
		return nil, nil, usage.New(err)
	}
	return strip, session, nil
}
