// Package trace turns the frames of a recording into one small sample each:
// when, how much load, and where; and, while there is load, into a pressure map
// every tenth of a second. That is all that stays in memory of a recording.
package trace

import "aplomb/analyze/field"

// LoadFloorN is the load below which there is no centre of pressure, N.
const LoadFloorN = field.LoadFloorN
