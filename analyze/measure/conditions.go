package measure

import "aplomb/device"

// Conditions are circumstances that change the rise of a dancer, or the reading of a
// strip, in every shoe alike. Relevés under different conditions are not pooled. A
// condition is "" where unknown, which differs from every known value.
type Conditions struct {
	Support  string `json:"support,omitempty"`  // what the dancer holds on to: barre, hand, none
	Rise     string `json:"rise,omitempty"`     // roll-up, spring, step
	Position string `json:"position,omitempty"` // of the feet
	Floor    string `json:"floor,omitempty"`    // its material
	Fixing   string `json:"fixing,omitempty"`   // how the strip is fixed to the shoe
	Feedback string `json:"feedback,omitempty"` // what the dancer sees of the numbers: none, after, live
}

// Condition is one condition by its name, which is its key in JSON.
type Condition struct{ Name, Value string }

// ConditionsOf returns the conditions of one foot of a recording. The foot has a strip.
func ConditionsOf(m *device.Metadata, f device.Foot) Conditions {
	return Conditions{m.Support, m.Rise, m.Position, m.Floor, m.Sides[f].Fixing, m.Feedback}
}

// List returns every condition by its name.
func (c Conditions) List() [6]Condition {
	return [6]Condition{
		{"support", c.Support}, {"rise", c.Rise}, {"position", c.Position},
		{"floor", c.Floor}, {"fixing", c.Fixing}, {"feedback", c.Feedback},
	}
}

// Differing returns the names of the conditions in which c differs from any of the others.
func (c Conditions) Differing(others ...Conditions) (names []string) {
	for i, one := range c.List() {
		for _, o := range others {
			if o.List()[i] != one {
				names = append(names, one.Name)
				break
			}
		}
	}
	return names
}
