package hold

// sources lists the sources of uncertainty in the order in which a budget names them.
// Each function is called once for a recording and foot, with the typical hold, and
// returns a function that gives its effect on each hold. To add a source, add a file with
// such a function, and its line here.
var sources = []func(*Instrument, *Typical) effectOf{
	fromSeat,
	fromOutline,
	fromBeyond,
	fromGains,
	fromZeroDrift,
	fromReconstruction,
	fromLostCells,
	fromNoise,
	fromSway,
	fromBlur,
	fromHysteresis,
	fromCreep,
}

// Typical returns the mean of holds, with the effects of all sources of uncertainty
// prepared; nil where there is no hold.
func (in *Instrument) Typical(holds []*Hold) *Typical {
	t := &Typical{pressure: make([]float64, in.Strip.Cells()), noise: make([]float64, in.Strip.Cells())}
	n := 0.0
	for _, h := range holds {
		if h != nil {
			n++
			for k, p := range h.pressure {
				t.pressure[k] += p
				t.noise[k] += h.noise[k]
			}
		}
	}
	if n == 0 {
		return nil
	}
	for k := range t.pressure {
		t.pressure[k] /= n
		t.noise[k] /= n
	}
	t.full = in.Grid.Reconstruct(t.pressure, t.noise)
	t.hold = in.measuresOf(t.full)
	t.noiseDraws = in.draws(noiseStream, t.noise, t)
	t.tilt = in.tiltSensitivity(t)
	for _, prepare := range sources {
		t.effects = append(t.effects, prepare(in, t))
	}
	return t
}
