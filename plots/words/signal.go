package words

import "aplomb/device"

// NoSignal stands in place of a foot while no frames of it arrive.
const NoSignal = "NO SIGNAL"

// SignalBack says that frames of a foot arrive again.
const SignalBack = "signal is back"

// GoesOn says what becomes of a recording of a foot without signal.
const GoesOn = "recording continues when it is back"

// Caution stands in help, screens and sheets about anything in which somebody rises.
const Caution = "Pain means stop. Have a barre or a spotter."

// CheckCable says what to do about a foot without signal.
func CheckCable(f device.Foot) string { return "Check the " + f.String() + " cable." }

// OtherGoesOn says that the other foot than f, which has no signal, is still recorded.
func OtherGoesOn(f device.Foot) string {
	return "The recording goes on with the " + f.Other().String() + " foot."
}
