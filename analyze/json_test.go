package analyze_test

import (
	"encoding/json"
	"maps"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/device"
)

// fields lists the names in an object of JSON, sorted.
func fields(t *testing.T, object any) []string {
	require.IsType(t, map[string]any{}, object)
	return slices.Sorted(maps.Keys(object.(map[string]any)))
}

func sorted(names ...string) []string { return slices.Sorted(slices.Values(names)) }

func asJSON(t *testing.T, r *measure.Result) (object map[string]any) {
	data, err := json.Marshal(r)
	require.NoError(t, err)
	assert.NotContains(t, string(data), "null", "what is undefined is absent")
	require.NoError(t, json.Unmarshal(data, &object))
	return object
}

// The names in the JSON are a format that other programs read.
func TestJSON(t *testing.T) {
	m := meta(on(device.Left), on(device.Right))
	frames := shoot(m, [2][][]float64{standing(2, bed{force: 300}), standing(1, bed{force: 300})})
	for i := range frames {
		// The second relevé of the left foot is aborted.
		if frames[i].Foot == device.Left && seconds(&frames[i]) > pause+2*up+held+pause+up+0.2 {
			clear(frames[i].Counts)
		}
	}
	all := asJSON(t, analyzed(t, m, frames))
	assert.Equal(t, sorted("recording", "platforms", "seats", "settings", "releves", "warning_codes", "warnings", "provenance"), fields(t, all))
	rec := all["recording"].(map[string]any)
	assert.Equal(t, sorted("file", "dancer", "shoes", "mountings", "feet"), fields(t, rec))
	for _, name := range []string{"shoes", "mountings", "feet"} {
		assert.Equal(t, sorted("left", "right"), fields(t, rec[name]))
	}
	assert.Equal(t, sorted("frames", "lost", "rate_hz", "span_s"), fields(t, rec["feet"].(map[string]any)["left"]))
	assert.Equal(t, "A", rec["shoes"].(map[string]any)["right"])
	assert.Equal(t, "made.mcap", rec["file"])
	platform := all["platforms"].(map[string]any)["left"].(map[string]any)
	assert.Equal(t, sorted("area_mm2", "kern_mm", "covered"), fields(t, platform))
	assert.Len(t, platform["kern_mm"].([]any)[0], 2, "[medial, over]")
	assert.Equal(t, sorted("version", "load_floor_n", "onset_share", "end_share", "hold_within", "hold_at_least_s", "dip_shorter_than_s", "contact_kpa",
		"sway_low_pass_hz", "sway_resampled_hz", "sway_window_s", "inside_from", "outside_up_to", "off_outline_warn", "platform_flat_warn"), fields(t, all["settings"]))

	releves := all["releves"].([]any)
	require.Len(t, releves, 3)
	measured := releves[0].(map[string]any)
	always := []string{"n", "foot", "feet_up", "start_s", "end_s", "status", "warnings", "warning_codes"}
	assert.Equal(t, sorted(append(always, "rise_s", "hold_start_s", "hold_s", "lower_s",
		"load_n", "over_mm", "over_norm", "medial_mm", "medial_norm", "contact_mm2", "contact_share", "contact_share_ci95",
		"kern_ratio", "edge_mm", "verdict", "p_inside", "peak_kpa", "peak_at_mm", "peak_frame_kpa", "pti_kpa_s", "thirds",
		"off_outline_share", "sway", "settling", "load_share", "u_over_mm", "u_medial_mm", "u_contact_share", "u_load_n",
		"dof_over_mm", "dof_medial_mm", "dof_contact_share", "dof_load_n")...), fields(t, measured))
	assert.Equal(t, "left", measured["foot"])
	assert.Equal(t, "measured", measured["status"])
	assert.Equal(t, sorted("back", "middle", "front"), fields(t, measured["thirds"]))
	assert.Equal(t, sorted("start_s", "sd_over_mm", "sd_medial_mm", "path_mm", "speed_mm_s", "ellipse95_mm2"), fields(t, measured["sway"]))
	assert.Equal(t, sorted("over_change_mm", "peak_over_change_mm", "peak_medial_change_mm"), fields(t, measured["settling"]))
	assert.Equal(t, sorted("value", "u", "ci95", "dof"), fields(t, measured["settling"].(map[string]any)["over_change_mm"]))

	aborted := releves[2].(map[string]any)
	assert.Equal(t, "aborted", aborted["status"])
	assert.Equal(t, sorted(always...), fields(t, aborted), "no measure, not even as 0")
}

// A recording of one foot, with a strip that does not number its frames, has fewer names.
func TestJSONLeavesOutWhatIsNotThere(t *testing.T) {
	m := meta(on(device.Left))
	frames := shoot(m, [2][][]float64{standing(1, bed{force: 300}), nil})
	for i := range frames {
		frames[i].Seq = device.NoSeq
	}
	all := asJSON(t, analyzed(t, m, frames))
	rec := all["recording"].(map[string]any)
	assert.Equal(t, []string{"left"}, fields(t, rec["shoes"]))
	assert.Equal(t, sorted("frames", "rate_hz", "span_s"), fields(t, rec["feet"].(map[string]any)["left"]))
	assert.Equal(t, []string{"left"}, fields(t, all["platforms"]))
	assert.NotContains(t, all["releves"].([]any)[0], "load_share")
}

// Every measure of the catalogue is in the JSON under its name, at the top level or in a
// group.
func TestCatalogNamesAreThoseOfTheJSON(t *testing.T) {
	m := meta(on(device.Left), on(device.Right))
	one := analyzed(t, m, shoot(m, [2][][]float64{standing(1, bed{force: 300, e: 1}), standing(1, bed{force: 200, e: 1})})).Releves[0]
	data, err := json.Marshal(one)
	require.NoError(t, err)
	var object map[string]any
	require.NoError(t, json.Unmarshal(data, &object))
	for _, group := range []string{"sway", "thirds"} {
		for name, v := range object[group].(map[string]any) {
			if group == "thirds" {
				name += "_third"
			}
			object[name] = v
		}
	}
	for name, v := range object["settling"].(map[string]any) {
		object[name] = v.(map[string]any)["value"]
	}
	for _, m := range measure.All() {
		value, ok := one.Value(m)
		assert.True(t, ok, m)
		assert.Equal(t, value, object[m.Symbol()], m)
		same, ok := measure.Named(m.Symbol())
		assert.True(t, ok && same == m)
		_, ok = new(measure.Hold).Value(m)
		optional := m == measure.LoadShare
		for _, group := range []string{"sway", "settling"} {
			optional = optional || object[group].(map[string]any)[m.Symbol()] != nil
		}
		assert.Equal(t, !optional, ok, "%s where there is none", m)
	}
	_, ok := measure.Named("lightness")
	assert.False(t, ok)
}
