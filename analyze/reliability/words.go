package reliability

import "aplomb/analyze/track"

// Name names the foot.
func (f *Foot) Name() string {
	if f.Side == track.Both {
		return string(f.Side)
	}
	return string(f.Side) + " foot"
}

// Name names the levels whose variance is in the component.
func (c Component) Name() string {
	name := string(c.Of)
	for _, l := range c.With {
		name += " + " + string(l)
	}
	return name
}
