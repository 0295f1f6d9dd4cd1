// Study makes the recordings of a simulated study: 20 dancers, 3 shoes, 2 visits, and 2
// recordings of each shoe in a visit. In each the platforms of both feet are pressed on a
// pad, and the dancer rises 12 times.
//
// usage: study DIR [RECORDINGS]
//
// All dancers dance alike: 12 recordings are simulated, and written under every dancer's
// code.
package main

import (
	"errors"
	"fmt"
	"io"
	"log"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/recording"
	"aplomb/device/sim"
)

const (
	dancers   = 20
	ofADancer = 12
	rises     = 12
	rateHz    = 200
	apart     = 24 * time.Hour // two recordings of a dancer
)

func main() {
	dir, left := os.Args[1], dancers*ofADancer
	if len(os.Args) > 2 {
		var err error
		if left, err = strconv.Atoi(os.Args[2]); err != nil {
			log.Fatal(err)
		}
	}
	for i := 0; i < ofADancer && left > 0; i++ {
		meta, session := simulated(i)
		var frames []device.Frame
		for {
			var f device.Frame
			if err := session.Next(&f); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				log.Fatal(err)
			}
			frames = append(frames, f)
		}
		for d := 0; d < dancers && left > 0; d++ {
			meta.Dancer = fmt.Sprintf("D%02d", d+1)
			path := filepath.Join(dir, fmt.Sprintf("%s-%02d.mcap", meta.Dancer, i+1))
			if err := write(path, meta, frames, session.PressEvents()); err != nil {
				log.Fatal(err)
			}
			left--
		}
	}
}

// simulated returns recording i of a dancer: its metadata, and its frames to come.
func simulated(i int) (device.Metadata, *sim.Session) {
	shoe := &device.Shoe{
		Code:            string(rune('A' + i%3)),
		PlatformMM:      [2]float64{35 + 2*float64(i%3), 21 + float64(i%3)},
		OutlineExponent: 2.5,
	}
	m := device.Metadata{Software: "simulated", Started: time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC).Add(time.Duration(i) * apart)}
	mounting := fmt.Sprintf("mounting %d", i+1)
	press := sim.Scenario{}.PadPress(6)
	press.Reach = [2]float64{0.5, 0.85} // so that no cell saturates
	setup := sim.Setup{
		Seed: 1, Start: m.Started, RateHz: rateHz, Mounting: mounting,
		Dancer: sim.Dancer{MassKG: 52, LeftShare: 0.47, Rises: rises, SwaySD: 0.5, LoadSD: 0.02},
		Faults: sim.DefaultFaults(), Press: press,
	}
	for _, f := range device.Feet {
		strip := &device.Strip{
			Name: [2]string{"L-01", "R-01"}[f], Foot: f, Rows: 6, Cols: 9,
			PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5}, ADCBits: 12, SaturatesAt: 4095,
			FirstCell: "back-lateral", Scan: "rows",
			Mount:       device.Mount{SeatSDMM: 1},
			Calibration: device.Calibration{KPaPerCount: 0.75, GainSD: 0.03},
		}
		m.Sides[f] = &device.Side{Strip: strip, Shoe: shoe, Mounting: mounting, Clock: "strip"}
		setup.Feet[f] = &sim.Foot{Strip: strip, Shoe: shoe, Stand: sim.Stand{CoPMM: platform.Point{-0.5, -2}, ScatterSD: 0.5}}
	}
	session, err := sim.NewSession(setup)
	if err != nil {
		log.Fatal(err)
	}
	return m, session
}

func write(path string, m device.Metadata, frames []device.Frame, presses []device.Event) error {
	w, err := recording.CreateDirect(path, m)
	if err != nil {
		return err
	}
	for i := range frames {
		if err := w.Write(&frames[i]); err != nil {
			return err
		}
	}
	for _, e := range presses {
		if err := w.WriteEvent(e); err != nil {
			return err
		}
	}
	return w.Close()
}
