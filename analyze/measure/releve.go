package measure

import (
	"aplomb/device"
	"aplomb/device/platform"
)

// Status reports whether a relevé could be measured.
type Status string

const (
	Measured Status = "measured"
	Aborted  Status = "aborted" // the load never settled, or its position is not known: reported, not measured
)

// Releve is one rise of one foot. Both feet of a pair have the same n.
type Releve struct {
	N         int         `json:"n"` // by onset, from 1
	Foot      device.Foot `json:"foot"`
	FeetUp    int         `json:"feet_up"` // 1 or 2
	StartS    float64     `json:"start_s"` // load crosses a tenth of the hold's, s since the first frame
	EndS      float64     `json:"end_s"`
	Status    Status      `json:"status"`
	Discarded bool        `json:"discarded,omitempty"` // marked while recording as not to be used
	*Hold                 // nil where aborted
	Notes     []string    `json:"notes,omitempty"` // notes written during or after this relevé
	Warnings  []Warning   `json:"warning_codes"`
	Texts     []string    `json:"warnings"` // Warnings in words, see package plots/words
}

// Counts reports whether the relevé is measured and not discarded, so that means
// and comparisons use it.
func (r *Releve) Counts() bool { return r.Status == Measured && !r.Discarded }

// Hold contains the numbers of one hold: the part of a relevé in which the load stays
// constant. Contact area and shares are relative to the outline of the platform.
type Hold struct {
	RiseS           float64        `json:"rise_s"`       // onset to the start of the hold
	HoldStartS      float64        `json:"hold_start_s"` // s since the first frame
	HoldS           float64        `json:"hold_s"`
	LowerS          float64        `json:"lower_s"` // end of the hold to the end of the load
	LoadN           float64        `json:"load_n"`
	OverMM          float64        `json:"over_mm"`
	OverNorm        float64        `json:"over_norm"` // -1 back edge, +1 front edge
	MedialMM        float64        `json:"medial_mm"`
	MedialNorm      float64        `json:"medial_norm"` // -1 little-toe edge, +1 big-toe edge
	ContactMM2      float64        `json:"contact_mm2"`
	ContactShare    float64        `json:"contact_share"` // 0..1
	KernRatio       float64        `json:"kern_ratio"`    // up to 1: inside the kern
	EdgeMM          float64        `json:"edge_mm"`       // to the outline, negative outside
	Verdict         Verdict        `json:"verdict"`
	PInside         float64        `json:"p_inside"`         // probability that the load acts inside the kern
	Misses          []Direction    `json:"misses,omitempty"` // along each axis by itself, over first; see package verdict
	PeakKPa         float64        `json:"peak_kpa"`         // of the hold's mean map
	PeakAt          platform.Point `json:"peak_at_mm"`
	PeakFrameKPa    float64        `json:"peak_frame_kpa"` // largest in any single frame
	PTIKPaS         float64        `json:"pti_kpa_s"`      // largest pressure-time integral of a cell
	Thirds          Thirds         `json:"thirds"`
	OffOutlineShare float64        `json:"off_outline_share"`    // share of load on cells beside the outline
	Sway            *Sway          `json:"sway,omitempty"`       // absent where less of the hold has settled than the window of sway
	Settling        *Settling      `json:"settling,omitempty"`   // absent where the hold is shorter than that window
	LoadShare       *float64       `json:"load_share,omitempty"` // left ÷ both; absent where one foot rises alone

	// Standard uncertainties of these numbers for this hold: they include the seat of the
	// strip, but not the mounting effect.
	UOverMM       float64 `json:"u_over_mm"`
	UMedialMM     float64 `json:"u_medial_mm"`
	UContactShare float64 `json:"u_contact_share"`
	ULoadN        float64 `json:"u_load_n"`

	// Degrees of freedom of these, so that half of a 95 % interval is t(0.975, DOF)·U.
	// JSON leaves out unlimited ones.
	DOFOver         DOF `json:"dof_over_mm,omitzero"`
	DOFMedial       DOF `json:"dof_medial_mm,omitzero"`
	DOFContactShare DOF `json:"dof_contact_share,omitzero"`
	DOFLoad         DOF `json:"dof_load_n,omitzero"`

	// ContactCI95 is the 95 % interval of the contact share. It is asymmetric and
	// within 0 to 1.
	ContactCI95 [2]float64 `json:"contact_share_ci95"`

	Map         []float64 `json:"-"` // mean pressure of each cell over the hold, kPa, in scan order
	MapNoiseKPa float64   `json:"-"` // standard deviation of Map from the noise of the cells, root mean square over them

	// ContactEdge is the line along which the platform lifts off the floor, in straight
	// pieces, [medial, over] in mm; empty where it does not lift off, and where the
	// contact is not from the fit that found the seat.
	ContactEdge [][2]platform.Point `json:"-"`

	// Budget lists the uncertainty budgets of over, medial, contact share and load. It is
	// nil unless requested.
	Budget map[Measure]Budget `json:"budget,omitempty"`

	// Effects lists the effect of each source of uncertainty on each measure, in the
	// order of the budgets.
	Effects []Effect `json:"-"`
}

// Thirds is the share of load in each third of the platform's depth, 0..1.
type Thirds struct {
	Back   float64 `json:"back"`
	Middle float64 `json:"middle"`
	Front  float64 `json:"front"`
}

// Sway describes the movement of the centre of pressure within a window of one hold. The
// window has the same length in every hold (Settings.SwayWindowS) and begins when the
// path has settled. A hold on pointe lasts seconds, far shorter than the 25 s that
// stabilometry requires in quiet stance (Scoppa et al., Gait & Posture 37 (2013)
// 290-292), so sway compares holds with each other and not with published norms.
type Sway struct {
	StartS       float64 `json:"start_s"` // beginning of the window, s since the first frame
	SDOverMM     float64 `json:"sd_over_mm"`
	SDMedialMM   float64 `json:"sd_medial_mm"`
	PathMM       float64 `json:"path_mm"`
	SpeedMMS     float64 `json:"speed_mm_s"` // path ÷ the time it took
	Ellipse95MM2 float64 `json:"ellipse95_mm2"`
}

// Settling is the change within one hold: mean over its last third less that over its
// first, mm. Its uncertainty is that due to sway about a constant position. The position
// of peak pressure is the centroid of what exceeds half of the largest pressure.
type Settling struct {
	Over       Change `json:"over_change_mm"`        // of the centre of pressure, positive towards the front
	PeakOver   Change `json:"peak_over_change_mm"`   // of the place of peak pressure, positive towards the front
	PeakMedial Change `json:"peak_medial_change_mm"` // positive towards the big toe
}

// Change is an Estimate with the degrees of freedom of U.
type Change struct {
	Estimate
	DOF DOF `json:"dof,omitzero"`
}

// Effect returns the effect of a source of uncertainty on the measures of the hold, nil
// where there is none.
func (h *Hold) Effect(s Source) *Effect {
	for i := range h.Effects {
		if h.Effects[i].Source == s {
			return &h.Effects[i]
		}
	}
	return nil
}
