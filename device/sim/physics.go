package sim

import (
	"fmt"
	"math"
	"strings"

	"aplomb/device"
)

// Physics describes the differences of a platform, and of the bed under it, from a rigid
// flat platform with sharp edges on a bed of constant stiffness, with the strip directly
// under it. The zero Physics has none of these differences.
type Physics struct {
	RoundFrontMM, RoundBackMM float64 // radius of the edge, as in Shape
	PleatsMM                  float64 // height of the highest pleat, as in Shape
	DomeMM                    float64 // edge above centre, as in Shape
	// SpreadMM is the standard deviation of the Gaussian by which a layer between
	// platform and strip, such as a cover, spreads the pressure, in pad presses and holds.
	SpreadMM float64
	// Overhang describes the readings, during pad presses, of a strip that reaches beyond
	// the platform.
	Overhang Overhang
	// TailKPa is the pressure that a taut tail of the strip adds to every cell of the
	// back row in every map.
	TailKPa float64
	// MoveSDMM and MoveSDDeg are the standard deviations by which the seat moves,
	// along each axis and in rotation, between the pad press and the holds.
	MoveSDMM, MoveSDDeg float64
	// Pad is the foam of the pad press and Floor the floor under the dancer. The zero Bed
	// stands for DefaultPadKPaMM and DefaultBedKPaMM without thickness and edge.
	Pad, Floor Bed
}

// pad and floor return the beds with their defaults.
func (p *Physics) pad() Bed   { return p.Pad.orElse(DefaultPadKPaMM) }
func (p *Physics) floor() Bed { return p.Floor.orElse(DefaultBedKPaMM) }

// Scenario is a platform with its physics and its pad press. Its name labels a row
// in the tables of how well a seat is found, its word is for typing.
type Scenario struct {
	Name, Word string
	PlatformMM [2]float64 // width and depth by the ruler, mm
	Physics    Physics
	Press      PadPress // the zero PadPress stands for DefaultPadPress
}

// Scenarios returns the scenarios in which the estimate of a seat is tested.
func Scenarios() []Scenario {
	// Stiffening foam is almost flat where the centre of pressure is at 80 % of the
	// distance to the outline; the platform tilts by 34° there under 100 N.
	rock := DefaultPadPress()
	rock.Reach = [2]float64{0.5, 0.8}
	all := []Scenario{
		{Name: "kind", Word: "kind"},
		{Name: "rounded 2 mm", Word: "rounded", Physics: Physics{RoundFrontMM: 2, RoundBackMM: 2}},
		{Name: "pleats 0.3 mm", Word: "pleats", Physics: Physics{PleatsMM: 0.3}},
		{Name: "spread 1.5 mm", Word: "spread", Physics: Physics{SpreadMM: 1.5}},
		{Name: "dome 0.2 mm", Word: "dome", Physics: Physics{DomeMM: 0.2}},
		{Name: "all together", Word: "all", Physics: Physics{RoundFrontMM: 1.5, RoundBackMM: 1.5, PleatsMM: 0.25, SpreadMM: 1, DomeMM: 0.1}},
		{Name: "back 3 mm, front 1 mm", Word: "rounder-back", Physics: Physics{RoundFrontMM: 1, RoundBackMM: 3}},
		{Name: "bent overhang, tail", Word: "overhang-tail", Physics: Physics{Overhang: Overhang{Share: 0.05, DecayMM: 2}, TailKPa: 4}},
		{Name: "38 × 24 mm", Word: "large", PlatformMM: [2]float64{38, 24}},
		{Name: "seat moves 0.3 mm", Word: "seat-moves", Physics: Physics{MoveSDMM: 0.3, MoveSDDeg: 0.3}},
		{Name: "foam stiffens", Word: "foam-stiffens", Physics: Physics{Pad: Bed{ThicknessMM: 6}}, Press: rock},
		{Name: "foam pulls at the edge", Word: "foam-pulls", Physics: Physics{Pad: Bed{ThicknessMM: 6, EdgeMM: 2}}, Press: rock},
		{Name: "rounded 2 mm, foam stiffens", Word: "rounded-foam", Physics: Physics{RoundFrontMM: 2, RoundBackMM: 2, Pad: Bed{ThicknessMM: 6}}, Press: rock},
	}
	for i := range all {
		if all[i].PlatformMM == ([2]float64{}) {
			all[i].PlatformMM = [2]float64{36, 22}
		}
	}
	return all
}

// Setup returns the setup of one mounting of the scenario: SeatStrip under the
// scenario's shoe with DefaultSensor.
func (s Scenario) Setup(seed uint64, number, holds int, thresholdKPa float64) MountingSetup {
	return MountingSetup{
		Seed: seed, Number: number, Strip: SeatStrip(), Shoe: s.Shoe(), Physics: s.Physics,
		Sensor: DefaultSensor(), Press: s.Press, Holds: holds, ThresholdKPa: thresholdKPa,
	}
}

// ScenarioNamed returns the one of Scenarios that has the name or the word. The error
// lists the words.
func ScenarioNamed(name string) (Scenario, error) {
	for _, s := range Scenarios() {
		if s.Name == name || s.Word == name {
			return s, nil
		}
	}
	return Scenario{}, fmt.Errorf("no physics %.40q: one of %s", name, strings.Join(ScenarioWords(), ", "))
}

// ScenarioWords returns the words of Scenarios.
func ScenarioWords() []string {
	var words []string
	for _, s := range Scenarios() {
		words = append(words, s.Word)
	}
	return words
}

// PadPress returns a pad press of the scenario that lasts so long, s, at the pace of
// the scenario's.
func (s Scenario) PadPress(seconds float64) PadPress {
	p := s.Press
	if p == (PadPress{}) {
		p = DefaultPadPress()
	}
	maps := math.Round(seconds * p.RateHz)
	p.Turns *= maps / float64(p.Maps)
	p.Maps = int(maps)
	return p
}

// Shoe returns the shoe of a scenario as the ruler has it.
func (s Scenario) Shoe() *device.Shoe {
	return &device.Shoe{Code: "S", PlatformMM: s.PlatformMM, OutlineExponent: 2.5}
}

// SeatStrip returns the strip of the scenarios: 5 rows of 8 square cells of 5 mm without
// gaps. Its profile centres it under the platform.
func SeatStrip() *device.Strip {
	return &device.Strip{
		Name: "seat", Foot: device.Right, Rows: 5, Cols: 8,
		PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5}, ADCBits: 12, SaturatesAt: 4095,
		FirstCell: "back-lateral", Scan: "rows",
		Mount: device.Mount{SeatSDMM: device.DefaultSeatSDMM},
	}
}
