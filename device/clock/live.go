package clock

// Live knows a strip's clock while the frames come, from those that have come.
// The zero Live is ready to use. It takes constant time a frame on average and
// holds at most some 250 points, however long it lasts.
type Live struct {
	origin  origin
	segment segment
}

// Add takes a frame measured at tUS of the strip's clock, µs, whose last byte
// arrived at arrivalNS of the host's, ns, less its time on the line where that
// is known. Frames come in order of tUS.
func (l *Live) Add(tUS uint64, arrivalNS int64) {
	l.segment.add(l.origin.point(tUS, arrivalNS))
	if len(l.segment.corners) > maxCorners {
		l.segment.dropOldCorners()
	}
}

// maxCorners is twice as many as there can be in the time that matters.
const maxCorners = 2 * rateS / blockS

// Restart says that the strip has started to count again before the next frame.
// Then where its clock stood is not known any more, but still how fast it runs.
func (l *Live) Restart() { l.segment = l.segment.afterRestart() }

// Host returns the host's time at tUS of the strip's clock, ns since 1970, for
// now and the few seconds past. (A float64 that large counts in steps of
// 256 ns.) Without frames it is NaN. Within 10 s of the start, of a restart and
// of a long gap it may still be out by tens of milliseconds.
func (l *Live) Host(tUS uint64) float64 {
	return l.origin.host(l.segment.liveLine().host(l.origin.seconds(tUS)))
}
