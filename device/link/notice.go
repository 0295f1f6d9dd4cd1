package link

import (
	"fmt"
	"strings"

	"aplomb/device"
	"aplomb/device/wire"
)

// Code is the subject of a Notice.
type Code uint8

const (
	// Flowing: frames come. It is the zero Code.
	Flowing Code = iota
	// Silent: no byte has come for WaitS.
	Silent
	// NoFrames: data comes, but no frame of Foot for WaitS.
	NoFrames
	// BadHello: the strip announces itself in a way that cannot be read (Cause).
	BadHello
	// Misfit: every frame has another number of cells than the profile, or counts beyond its bits.
	Misfit
	// OnlyHello: the strip announces itself and sends no frame for WaitS.
	OnlyHello
	// Unreadable: what comes is in neither of the two formats.
	Unreadable
	// PortGone: the port has vanished (Cause).
	PortGone
	// Replaced: another strip (Other) is on the port of Strip, and is refused.
	Replaced
	// Stranger: a strip (Other) that is not recorded is on a port that was found in a search, and is refused.
	Stranger
	// HostClock: the lines have no clock, so the host's time of arrival replaces the time
	// of Strip.
	HostClock
	// NoHello: no hello has come for WaitS, so the frames of Foot are taken as those of Strip.
	NoHello
)

// Notice is information about a line for the person who records. It is plain data and
// comparable; String returns its words. Fields not named by a Code are zero or
// meaningless for it.
type Notice struct {
	Code  Code
	Port  string
	Foot  device.Foot
	Strip string  // the name in the profile
	Other Speaker // what is on the port instead
	Cause string  // in the words of the system or of the decoder
	WaitS float64 // s

	// What has arrived, for Misfit and Unreadable.
	Rows, Cols, ADCBits, Baud int
	WrongLength, OutOfRange   uint64 // frames
	Bytes                     uint64
}

// Speaker is the sender on a line: a strip that has announced itself, or else unannounced
// frames of a foot.
type Speaker struct {
	Strip string // its name, "" where it has not announced itself
	Foot  device.Foot
	// Differs describes how a strip of this name and foot differs from its profile, ""
	// where it does not.
	Differs string
}

// String returns a Speaker in words.
func (s Speaker) String() string {
	if s.Strip == "" {
		return fmt.Sprintf("frames of the %s foot", s.Foot)
	}
	return fmt.Sprintf("strip %q of the %s foot", s.Strip, s.Foot)
}

// String returns the Notice in one line: the port, the problem and, where there is one,
// the remedy. It is "" for Flowing.
func (n Notice) String() string {
	wait := fmt.Sprintf("%g s", n.WaitS)
	text := ""
	switch n.Code {
	case Silent:
		text = fmt.Sprintf("no data for %s: is the strip switched on, and is this its port (see aplomb ports)?", wait)
	case NoFrames:
		text = fmt.Sprintf("data, but no frame of the %s foot for %s: is that strip switched on, and does its clock run?", n.Foot, wait)
	case BadHello:
		text = fmt.Sprintf("the strip says who it is in a way that cannot be meant (%s): correct what its firmware sends", n.Cause)
	case Misfit:
		text = fmt.Sprintf("no frame that fits strip %s in %s: %d with another number of cells than %d × %d, %d with counts beyond %d bits: correct the profile",
			n.Strip, wait, n.WrongLength, n.Rows, n.Cols, n.OutOfRange, n.ADCBits)
	case OnlyHello:
		text = fmt.Sprintf("strip %s says hello but sends no frame in %s: start it again", n.Strip, wait)
	case Unreadable:
		text = fmt.Sprintf("%d bytes in %s that are neither binary packets nor lines of numbers: check --baud (now %d), and that this is the strip's port (see aplomb ports)",
			n.Bytes, wait, n.Baud)
	case PortGone:
		return fmt.Sprintf("lost %s (%s)", n.Port, strings.Replace(n.Cause, "Port has been closed", "port closed", 1))
	case Replaced:
		text = fmt.Sprintf("%s where strip %q was: refused; plug %q back in", n.Other, n.Strip, n.Strip)
		if n.Other.Strip == n.Strip && n.Other.Differs != "" {
			text = fmt.Sprintf("strip %q now says %s: refused; set it as it was, or record again with a profile that fits", n.Strip, n.Other.Differs)
		}
	case Stranger:
		text = fmt.Sprintf("%s, which is not recorded here: refused", n.Other)
	case HostClock:
		text = fmt.Sprintf("lines without a clock: the host's arrival time stands in for that of strip %s", n.Strip)
	case NoHello:
		text = fmt.Sprintf("no hello within %s: frames of the %s foot are taken as strip %s of the profile", wait, n.Foot, n.Strip)
	default:
		return ""
	}
	return "port " + n.Port + ": " + text
}

// err returns the Notice as an error, for a line on which nothing has been received yet.
func (n Notice) err() error {
	kind := ErrNoFrames
	if n.Code == Silent {
		kind = ErrSilent
	}
	return errorOf(kind, "%s", n)
}

// silence returns why there are no frames of a foot.
func (l *Link) silence(s *footState) Notice {
	p := s.port
	line := p.stats()
	n := Notice{Port: p.line.name, Foot: s.foot, Strip: s.strip.Name, WaitS: l.maxSilence.Seconds()}
	misfits := line.Bad[wire.WrongLength] + line.Bad[wire.OutOfRange]
	switch {
	case p.line.quiet > l.maxQuiet:
		n.Code = Silent
	case line.Frames > 0 || s.stats.Refused > 0:
		n.Code = NoFrames
	case line.HelloError != "" && line.Hellos == 0:
		n.Code, n.Cause = BadHello, line.HelloError
	case misfits > 0 && misfits >= line.Bad[wire.Damaged]:
		n.Code = Misfit
		n.Rows, n.Cols, n.ADCBits = s.strip.Rows, s.strip.Cols, s.strip.ADCBits
		n.WrongLength, n.OutOfRange = line.Bad[wire.WrongLength], line.Bad[wire.OutOfRange]
	case line.Hellos > 0:
		n.Code = OnlyHello
	default:
		n.Code, n.Bytes, n.Baud = Unreadable, line.Bytes, l.baud
	}
	return n
}
