package sim

import (
	"fmt"

	"aplomb/device"
)

// Physics says how a platform and what it is pressed on differ from a rigid flat
// platform with sharp edges on a bed of constant stiffness. The zero Physics differs in nothing.
type Physics struct {
	RoundFrontMM, RoundBackMM float64 // radius of the edge, as in Shape
	PleatsMM                  float64 // height of the highest pleat, as in Shape
	DomeMM                    float64 // edge above centre, as in Shape
	// SpreadMM is the standard deviation of the Gaussian by which a layer between
	// platform and strip, such as a cover, spreads the pressure, in pad presses and holds.
	SpreadMM float64
	// Overhang is what a strip that reaches beyond the platform reads in pad presses.
	Overhang Overhang
	// TailKPa is what the tail of the strip, pulled tight, adds to every cell of
	// the back row in every map.
	TailKPa float64
	// MoveSDMM and MoveSDDeg are the standard deviations by which the seat moves,
	// along each axis and in rotation, between the pad press and the holds.
	MoveSDMM, MoveSDDeg float64
	// Pad is the foam of the pad press and Floor what the dancer stands on. The
	// zero Bed stands for DefaultPadKPaMM and DefaultBedKPaMM without thickness and edge.
	Pad, Floor Bed
}

// pad and floor return the beds with their defaults.
func (p *Physics) pad() Bed   { return p.Pad.orElse(DefaultPadKPaMM) }
func (p *Physics) floor() Bed { return p.Floor.orElse(DefaultBedKPaMM) }

func (b Bed) orElse(kPaMM float64) Bed {
	if b.KPaMM == 0 {
		b.KPaMM = kPaMM
	}
	return b
}

// Scenario is a platform with its physics. Its names are those of the tables of
// how well a seat is found.
type Scenario struct {
	Name       string
	PlatformMM [2]float64 // width and depth that the ruler is meant to find, mm
	Physics    Physics
}

// Scenarios returns the scenarios that the seat's estimate is tested in.
func Scenarios() []Scenario {
	usual := [2]float64{36, 22}
	return []Scenario{
		{"kind", usual, Physics{}},
		{"rounded 2 mm", usual, Physics{RoundFrontMM: 2, RoundBackMM: 2}},
		{"pleats 0.3 mm", usual, Physics{PleatsMM: 0.3}},
		{"spread 1.5 mm", usual, Physics{SpreadMM: 1.5}},
		{"dome 0.2 mm", usual, Physics{DomeMM: 0.2}},
		{"all together", usual, Physics{RoundFrontMM: 1.5, RoundBackMM: 1.5, PleatsMM: 0.25, SpreadMM: 1, DomeMM: 0.1}},
		{"back 3 mm, front 1 mm", usual, Physics{RoundFrontMM: 1, RoundBackMM: 3}},
		{"bent overhang, tail", usual, Physics{Overhang: Overhang{Share: 0.05, DecayMM: 2}, TailKPa: 4}},
		{"38 × 24 mm", [2]float64{38, 24}, Physics{}},
		{"seat moves 0.3 mm", usual, Physics{MoveSDMM: 0.3, MoveSDDeg: 0.3}},
		{"foam stiffens", usual, Physics{Pad: Bed{ThicknessMM: 6}}},
		{"foam pulls at the edge", usual, Physics{Pad: Bed{ThicknessMM: 6, EdgeMM: 2}}},
		{"rounded 2 mm, foam stiffens", usual, Physics{RoundFrontMM: 2, RoundBackMM: 2, Pad: Bed{ThicknessMM: 6}}},
	}
}

// ScenarioNamed returns one of Scenarios.
func ScenarioNamed(name string) (Scenario, error) {
	for _, s := range Scenarios() {
		if s.Name == name {
			return s, nil
		}
	}
	return Scenario{}, fmt.Errorf("no scenario %q", name)
}

// Shoe returns the shoe of a scenario as its ruler would be right.
func (s Scenario) Shoe() *device.Shoe {
	return &device.Shoe{Code: "S", PlatformMM: s.PlatformMM, OutlineExponent: 2.5}
}

// SeatStrip returns the strip that the scenarios are laid on: 5 rows of 8 square
// cells of 5 mm without gaps, meant to lie centred under the platform.
func SeatStrip() *device.Strip {
	return &device.Strip{
		Name: "seat", Foot: device.Right, Rows: 5, Cols: 8,
		PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5}, ADCBits: 12, SaturatesAt: 4095,
		FirstCell: "back-lateral", Scan: "rows",
		Mount: device.Mount{SeatSDMM: device.DefaultSeatSDMM},
	}
}
