package words

import "aplomb/device"

// NoSignal replaces the display of a foot while no frames of it arrive.
const NoSignal = "NO SIGNAL"

// SignalBack is the message that frames of a foot arrive again.
const SignalBack = "signal is back"

// GoesOn is the message about a recording of a foot without signal.
const GoesOn = "recording continues when it is back"

// Caution is part of all help, screens and sheets that involve rising on pointe.
const Caution = "Pain means stop. Have a barre or a spotter."

// CheckCable returns what to do about a foot without signal.
func CheckCable(f device.Foot) string { return "Check the " + f.String() + " cable." }

// OtherGoesOn returns the message that the foot other than f, which has no signal, is
// still recorded.
func OtherGoesOn(f device.Foot) string {
	return "The recording goes on with the " + f.Other().String() + " foot."
}
