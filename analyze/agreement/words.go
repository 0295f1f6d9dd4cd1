package agreement

import "fmt"

// Results that cannot be given, and why, for Refusal.
const (
	ofHold  = "limits of a hold, %s"
	ofFrame = "limits of a frame, %s"
	ofSlope = "slope, %s"

	whyNoPlace  = "the reference gives no centre of pressure under load"
	whyApart    = "the platform was put down anew for each load, so its place on the reference is not known; only changes within a load are compared"
	whyFewHolds = "%d holds are wholly in the reference; limits and slope over holds need %d"
	whyNoSlope  = "the holds differ no more than the differences do, so they show no slope"
	whyOneLoad  = "limits of one frame need two loads"
)

// Reasons why the clocks cannot be synchronised.
const (
	tapAgain     = "tap the platform on the reference three times before and after, with unequal pauses, or name a common time with --trigger"
	whyFewTaps   = "of taps, the strip saw %d and the reference %d: " + tapAgain
	whyManyTaps  = "of taps, the strip saw %d and the reference %d; more than %d are vibration: cut the file, or name a common time with --trigger"
	whyOtherTaps = "of taps, the strip saw %d and the reference %d, and fewer than half of the strip's fit: " + tapAgain
	whyEvenTaps  = "the taps fit in more than one way: tap with unequal pauses, or name a common time with --trigger"
)

// Reasons why a reference is refused.
const (
	whyNoOverlap = "the recording lasts from %.1f to %.1f s on the reference's clock, the reference has %.1f to %.1f s: name the file of this recording, or correct --trigger"
	whyLoadDown  = "its load falls where the strip's rises: --flip load turns it round"
	whyOtherFoot = "it fits the %s foot: --foot %s"
	whyUnlike    = "the loads do not rise together (correlation %.2f): is it the file of this recording and this foot, and is the column of the load the vertical one?"
	whyLoadUnit  = "its load is %.4g times the strip's: name its column %s"
	whyFewFrames = "%d frames under load are in both, at least %d are needed"
	whyPlaceUnit = "its %s changes by %.4g of what the strip's does: name its column %s"
	whyConstant  = "its %s stays at %.1f mm while the strip's varies by %.1f mm (standard deviation): name the column of the centre of pressure"
	whyTurned    = "its %s runs the other way: --flip %s turns it round"
	whyExchanged = "its medial moves with the strip's over and its over with the strip's medial: exchange the names of the two columns, or correct --turn"
	whyFar       = "its %s is %.0f mm from the middle of the platform: give the place of the reference's origin with --at, or use --apart if it is not known"
)

// Warnings.
const (
	warnSeat    = "the holds are of one mounting: the error of its seat, ± %.1f mm over and ± %.1f mm medial by the strip (evidence: %s), is in the bias and not in the limits; other mountings show it"
	warnUnlike  = "%s of strip and reference do not move together (correlation %.2f): is it the file of this recording, and are --at, --turn and --flip right?"
	warnRate    = "nothing shows the rate of the clocks, which is taken to be equal: tap before and after"
	warnMissing = "the reference has nothing for %d of %d frames under load"
	warnBeside  = "loads beside the reference, which it did not see, are left out: %d"
	warnLeftOut = "rows of the reference without a load are left out: %d"
	warnHolds   = "holds that are not wholly in the reference are left out: %d"
)

func errRate(rate float64) error {
	return fmt.Errorf("%w: the reference's clock would run faster by %.0f in a million: its times are in another unit, or the common times are wrong", ErrClock, 1e6*rate)
}
