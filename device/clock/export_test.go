package clock

func (l *Live) Corners() int { return len(l.segment.corners) }

func (f *Fit) Corners() int { return len(f.segment.corners) }
