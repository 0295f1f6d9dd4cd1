package text

import (
	"fmt"

	"aplomb/device"
)

// Unit is the unit of lengths that are typed and printed, mm or inch. It can be the
// value of a flag.
type Unit string

// String returns the unit.
func (r *Unit) String() string { return string(*r) }

// Type names what a flag takes.
func (r *Unit) Type() string { return "unit" }

// Set takes what was typed.
func (r *Unit) Set(v string) error {
	for _, unit := range device.Units {
		if v == unit {
			*r = Unit(v)
			return nil
		}
	}
	return fmt.Errorf("%q: mm or inch", v)
}

// Length writes a length, "" for 0.
func (r Unit) Length(mm float64) string { return Known(device.InUnit(mm, string(r))) }

// Size writes width × depth.
func (r Unit) Size(mm [2]float64) string {
	width, _ := device.InUnit(mm[0], string(r))
	return Trimmed(width) + " × " + r.Length(mm[1])
}
