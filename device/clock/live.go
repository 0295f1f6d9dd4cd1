package clock

// Live converts the time of a strip's clock to that of the host while frames come, from
// the frames so far. The zero Live is ready to use. A frame takes constant time on
// average. It holds at most some 250 points.
type Live struct {
	origin  origin
	segment segment
}

// Add adds a frame measured at tUS of the strip's clock, µs, whose last byte arrived at
// arrivalNS of the host's clock, ns since 1970. The caller subtracts the time of the
// frame on the line from arrivalNS where that is known. Frames come in order of tUS.
func (l *Live) Add(tUS uint64, arrivalNS int64) {
	l.segment.add(l.origin.point(tUS, arrivalNS))
	if len(l.segment.corners) > maxCorners {
		l.segment.dropOldCorners()
	}
}

// maxCorners is twice the number of corners that there can be in rateS.
const maxCorners = 2 * rateS / blockS

// Restart notes that the strip has restarted before the next frame. Its clock then shows
// another time, but its rate is still known.
func (l *Live) Restart() { l.segment = l.segment.afterRestart() }

// Host returns the host's time at tUS of the strip's clock, ns since 1970, for times in
// the last few seconds; NaN where there are no frames. (A float64 of that size counts in
// steps of 256 ns.) Within 10 s of the start, of a restart and of a long gap it may be
// wrong by tens of milliseconds.
func (l *Live) Host(tUS uint64) float64 {
	return l.origin.host(l.segment.liveLine().host(l.origin.seconds(tUS)))
}
