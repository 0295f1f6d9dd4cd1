package clock

func (l *Live) Corners() int { return len(l.piece.corners) }

func (f *Fit) Corners() int { return len(f.piece.corners) }
