package measure

import "aplomb/device"

// PerFoot holds a value for each foot, nil where a foot has none. It is for JSON objects
// with the keys left and right; elsewhere in the program a pair of values is an array
// indexed by device.Foot.
type PerFoot[T any] struct {
	Left  *T `json:"left,omitempty"`
	Right *T `json:"right,omitempty"`
}

// Of returns the value of foot f, nil where it has none.
func (p PerFoot[T]) Of(f device.Foot) *T {
	if f == device.Left {
		return p.Left
	}
	return p.Right
}

// Set sets the value of foot f.
func (p *PerFoot[T]) Set(f device.Foot, v T) {
	if f == device.Left {
		p.Left = &v
	} else {
		p.Right = &v
	}
}
