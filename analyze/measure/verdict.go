package measure

// Verdict is the position of the centre of pressure relative to the kern, as far as its
// uncertainty allows a statement.
type Verdict string

const (
	OverTheBox     Verdict = "over"              // inside the kern
	PulledBack     Verdict = "not_over"          // behind it
	TooFarOver     Verdict = "too_far_over"      // in front of it
	ToTheSide      Verdict = "to_the_side"       // beside it
	TooCloseToCall Verdict = "too_close_to_call" // the uncertainty does not show whether it is inside
)

// Direction is a direction in which the centre of pressure lies beyond the kern.
type Direction string

const (
	Behind        Direction = "behind"
	InFront       Direction = "in_front"
	LittleToeSide Direction = "little_toe_side"
	BigToeSide    Direction = "big_toe_side"
)
