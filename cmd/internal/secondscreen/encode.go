package secondscreen

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"time"

	"aplomb/analyze/measure"
	"aplomb/analyze/verdict"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/plots/words"
)

// view is one of the two pages.
type view int

const (
	fitterView view = iota
	dancerView
	viewCount = iota
)

// String returns the name of the view in its address.
func (v view) String() string { return [...]string{"fitter", "dancer"}[v] }

// message is the data sent to a page, as JSON: shapes when they have changed, and news
// always.
type message struct{ shapes, news []byte }

// pageNews is the changing content of a page. The page displays it unchanged: all words
// are chosen here.
type pageNews struct {
	Stage   Stage        `json:"stage"`
	Title   string       `json:"title"`
	Text    string       `json:"text"`            // one line below the title
	Large   string       `json:"large,omitempty"` // in large letters by the title
	Says    string       `json:"says"`            // spoken by a screen reader when it changes
	RestS   *float64     `json:"rest_s,omitempty"`
	Feet    [2]*footNews `json:"feet"` // null for a foot that is not shown
	Shoes   bool         `json:"shoes"`
	Load    string       `json:"load,omitempty"`     // load on the feet
	Share   *float64     `json:"share,omitempty"`    // of the left foot of the load of both, 0 to 1
	FrameMS int64        `json:"frame_ms,omitempty"` // arrival of the newest frame shown, ms since 1970
}

type footNews struct {
	Label  string      `json:"label,omitempty"` // subject of Words
	Words  []wordNews  `json:"words"`           // where the load is, one for each axis that it misses; none without load
	Says   string      `json:"says"`            // the same as a sentence
	At     *[2]float64 `json:"at,omitempty"`
	Live   bool        `json:"live,omitempty"` // At moves, and the page draws its path
	Past   bool        `json:"past,omitempty"` // Words and At are of a relevé that has ended, on a page that is live
	Count  string      `json:"count"`
	Enough bool        `json:"enough,omitempty"`
	Alarm  bool        `json:"alarm,omitempty"` // Says is what to do at once
}

// wordNews is one large word, and the direction on the page in which the load is: up, down,
// left or right; in for inside the kern, "" where it is open.
type wordNews struct {
	Text  string `json:"text"`
	Arrow string `json:"arrow,omitempty"`
}

// pageShapes is the content of a page that changes with the shoe.
type pageShapes struct {
	Box   [4]float64    `json:"box"` // that holds every outline: left, top, width, height; mm
	Feet  [2]*shapeNews `json:"feet"`
	Shoes []shoeNews    `json:"shoes"`
}

// shapeNews is an outline and a kern as paths of SVG, in mm, front up, as seen from above
// through the foot.
type shapeNews struct {
	Outline string `json:"outline"`
	Kern    string `json:"kern"`
}

type shoeNews struct {
	Code string           `json:"code"`
	Feet [2]*standingNews `json:"feet"`
}

type standingNews struct {
	shapeNews
	At    [2]float64 `json:"at"`
	Words []wordNews `json:"words"`
	Says  string     `json:"says"`
}

// encode returns the message for a page about a state at a moment. calm is the newest
// state in which no platform was loaded: during a recording the dancer sees no newer one,
// unless feedback is live.
func encode(v view, s, calm *State, now time.Time) (message, error) {
	var n pageNews
	if v == fitterView {
		n = fitterNews(s)
	} else {
		rising := s.up()
		if s.Stage == Recording && !s.live() {
			s = calm
		}
		n = dancerNews(s, rising)
	}
	if s.Stage == Between && !s.RestEnds.IsZero() {
		left := tenths(max(0, s.RestEnds.Sub(now).Seconds()))
		n.RestS = &left
	}
	shapes, err := json.Marshal(shapesOf(s, &n))
	if err != nil {
		return message{}, fmt.Errorf("the second screen: %w", err)
	}
	news, err := json.Marshal(n)
	if err != nil {
		return message{}, fmt.Errorf("the second screen: %w", err)
	}
	return message{shapes, news}, nil
}

// fitterNews returns the fitter's page: everything, live.
func fitterNews(s *State) pageNews {
	n := stageNews(s)
	n.Shoes = len(s.Shoes) > 0 && (s.Stage == Between || s.Stage == Done)
	if s.Text != "" {
		n.Text = s.Text
	}
	switch s.Stage {
	case Pressing:
		n.Large, n.Says, n.Feet = s.Large, s.Text, liveFeet(s)
	case Recording:
		n.Says, n.Feet = releveText(s), liveFeet(s)
		n.addLoad(s)
		if s.enough() && !s.up() {
			n.Large, n.Text = "DONE", nextStep(s)
		}
	case Done:
		if !n.Shoes {
			n.Feet = lastFeet(s)
		}
	}
	if !s.Frame.IsZero() {
		n.FrameMS = s.Frame.UnixMilli()
	}
	return n
}

// dancerNews returns the dancer's page, depending on feedback. rising reports whether she
// has begun another relevé than the last one in s.
func dancerNews(s *State, rising bool) pageNews {
	n := stageNews(s)
	if s.Feedback == device.Feedbacks[0] {
		if s.Stage == Recording || s.Stage == Done {
			n.Text = "The load is not shown to the dancer."
		}
		n.Says = n.Text
		return n
	}
	n.Shoes = len(s.Shoes) > 0 && s.Stage == Done
	switch {
	case s.Stage == Recording && s.live():
		n.Text = "Live. Practice enters no comparison."
		n.Feet, n.Says = liveFeet(s), releveText(s)
		n.addLoad(s)
		if !s.Frame.IsZero() {
			n.FrameMS = s.Frame.UnixMilli()
		}
	case s.Stage == Recording || s.Stage == Done && !n.Shoes:
		n.Feet, n.Says = lastFeet(s), releveText(s)
		switch {
		case n.Says != "":
			n.Text = lastTitle(s, rising)
		case s.Stage == Recording:
			n.Text = "Each relevé is shown when it is done."
		}
	}
	return n
}

// shapesOf returns the outlines for the content of a page.
func shapesOf(s *State, n *pageNews) (shapes pageShapes) {
	for f := range n.Feet {
		if n.Feet[f] != nil {
			shapes.Feet[f] = shapeOf(device.Foot(f), s.Feet[f].Outline, s.Feet[f].Kern)
			shapes.Box = around(shapes.Box, s.Feet[f].Outline)
		}
	}
	if !n.Shoes {
		return shapes
	}
	for _, shoe := range s.Shoes {
		shapes.Shoes = append(shapes.Shoes, shoeOf(shoe))
		for _, foot := range shoe.Feet {
			if foot != nil {
				shapes.Box = around(shapes.Box, foot.Outline)
			}
		}
	}
	return shapes
}

// stageNews returns title and text of a stage.
func stageNews(s *State) (n pageNews) {
	n.Stage = s.Stage
	if s.Shoe != "" {
		n.Title = "Shoe " + s.Shoe
	}
	if s.live() {
		n.Title = strings.TrimPrefix(n.Title+": practice", ": ")
	}
	switch s.Stage {
	case Waiting:
		n.Text = "Nothing is recorded yet."
	case Pressing:
		n.Text = "Pad press of the platforms"
	case Recording:
		if s.Planned > 0 {
			n.Text = words.Count(s.Planned, "relevé", "relevés") + " of each foot"
		}
	case Between:
		n.Title = "Next shoe"
		if s.Shoe != "" {
			n.Title = "Next: shoe " + s.Shoe
		}
		n.Text = "Rest"
		if s.RestEnds.IsZero() {
			n.Text = "The next recording is prepared."
		}
	case Done:
		n.Title, n.Text = "Shoes side by side", "Where the load was, the mean of the relevés"
		if len(s.Shoes) == 0 {
			n.Title, n.Text = "The recording has ended", ""
		}
	}
	n.Says = n.Text
	return n
}

// releveText describes the last relevé, "" before the first.
func releveText(s *State) string {
	last := 0
	for _, foot := range s.Feet {
		if foot != nil && foot.Last != nil {
			last = max(last, foot.Last.N)
		}
	}
	if last == 0 {
		return ""
	}
	text := fmt.Sprintf("Relevé %d.", last)
	for f, foot := range s.Feet {
		if foot != nil && foot.Last != nil && foot.Last.N == last {
			text += fmt.Sprintf(" %s foot: %s.", device.Foot(f), foot.Last.says())
		}
	}
	for f, foot := range s.Feet {
		if foot != nil {
			text += fmt.Sprintf(" %s %s.", device.Foot(f), countOf(foot, s.Planned))
		}
	}
	return text
}

// lastTitle names the last relevé: its number out of those planned, where all so far
// count. During the next relevé it is the previous one.
func lastTitle(s *State, rising bool) string {
	last, all := 0, true
	for _, foot := range s.Feet {
		if foot != nil && foot.Last != nil {
			last = max(last, foot.Last.N)
		}
	}
	for _, foot := range s.Feet {
		all = all && (foot == nil || foot.Counted == last)
	}
	text := fmt.Sprintf("elevé %d", last)
	if all && last <= s.Planned {
		text += fmt.Sprintf(" of %d", s.Planned)
	}
	if rising {
		return "Previous: r" + text
	}
	return "R" + text
}

// nextStep returns what to do when every foot has as many relevés as planned.
func nextStep(s *State) string {
	if s.Guided {
		return "Next step: press next to end this shoe."
	}
	return "Next step: end the recording at the computer."
}

// addLoad adds how the load is divided between the feet, or the load of the only one.
func (n *pageNews) addLoad(s *State) {
	left, right := s.Feet[device.Left], s.Feet[device.Right]
	for _, foot := range s.Feet {
		if foot != nil && foot.At != nil {
			n.Load = words.Number(foot.LoadN, 0) + " N"
		}
	}
	if left == nil || right == nil {
		return
	}
	n.Load = "No load"
	if left.Away || right.Away {
		n.Load = "Load on both feet: not known"
		return
	}
	if total := left.LoadN + right.LoadN; (left.At != nil || right.At != nil) && total > 0 {
		share := math.Round(100*left.LoadN/total) / 100
		n.Share, n.Load = &share, fmt.Sprintf("Left %.0f %%, right %.0f %% of the load on both feet", 100*share, 100*(1-share))
	}
}

// says describes the relevé.
func (r *Releve) says() string {
	switch {
	case r.Discarded:
		return "discarded"
	case !r.Settled:
		return "the load never settled"
	}
	return words.LoadAt(r.Verdict, r.Misses, r.At[0])
}

// liveFeet returns both feet as they are now.
func liveFeet(s *State) (feet [2]*footNews) {
	for f, foot := range s.Feet {
		if foot == nil {
			continue
		}
		one := &footNews{Live: true, Count: countOf(foot, s.Planned), Enough: s.Planned > 0 && foot.Counted >= s.Planned}
		feet[f] = one
		switch {
		case foot.Away:
			one.Words, one.Alarm = []wordNews{{Text: words.NoSignal}}, true
			one.Says = words.CheckCable(device.Foot(f))
			if other := s.Feet[device.Foot(f).Other()]; other != nil && !other.Away && s.Stage == Recording {
				one.Says += " " + words.OtherGoesOn(device.Foot(f))
			}
		case foot.At == nil:
			one.Says = "no load"
			if s.Stage == Recording {
				one.Past = true
				one.addLast(device.Foot(f), foot.Last)
			}
		default:
			one.At = onPage(device.Foot(f), *foot.At)
			if s.Stage == Recording { // the place of a hand during a pad press says nothing of a stance
				one.Label, one.Words = "where the load is now", largeWords(device.Foot(f), foot.Where, foot.Misses, foot.At[0])
				one.Says = words.LoadAt(foot.Where, foot.Misses, foot.At[0])
			}
		}
	}
	return feet
}

// lastFeet returns both feet as they were in the last relevé that counts.
func lastFeet(s *State) (feet [2]*footNews) {
	for f, foot := range s.Feet {
		if foot == nil {
			continue
		}
		one := &footNews{Count: countOf(foot, s.Planned), Enough: s.Planned > 0 && foot.Counted >= s.Planned}
		feet[f] = one
		one.addLast(device.Foot(f), foot.Last)
	}
	return feet
}

// addLast shows the last relevé; nil for none.
func (n *footNews) addLast(f device.Foot, last *Releve) {
	if last == nil {
		return
	}
	n.Says = fmt.Sprintf("Relevé %d: %s", last.N, last.says())
	if last.Settled && !last.Discarded {
		n.Label = "where the load was"
		if n.Past {
			n.Label = "in the previous relevé"
		}
		n.Words = largeWords(f, last.Verdict, last.Misses, last.At[0])
		n.At = onPage(f, last.At)
	}
}

// countOf counts the relevés of a foot, against a plan where there is one.
func countOf(f *Foot, planned int) string {
	if planned > 0 {
		return fmt.Sprintf("%d of %d", f.Counted, planned)
	}
	return words.Count(f.Counted, "relevé", "relevés")
}

// largeWords returns the large words for where the load is, as words.LargeLines has them, each
// with its direction on the page.
func largeWords(f device.Foot, v measure.Verdict, misses []measure.Direction, medialMM float64) (all []wordNews) {
	towards := verdict.Directions(v, misses, medialMM)
	for i, line := range words.LargeLines(v, misses, medialMM) {
		one := wordNews{Text: line}
		switch {
		case v == measure.OverTheBox:
			one.Arrow = "in"
		case i < len(towards):
			one.Arrow = arrowTo(f, towards[i])
		}
		all = append(all, one)
	}
	return all
}

// arrowTo returns the direction on the page.
func arrowTo(f device.Foot, d measure.Direction) string {
	medialMM := 1.0
	switch d {
	case measure.Behind:
		return "down"
	case measure.InFront:
		return "up"
	case measure.LittleToeSide:
		medialMM = -1
	}
	if across(f, medialMM) < 0 {
		return "left"
	}
	return "right"
}

// across converts a medial place to one on the page, where left is negative: big toes face
// each other.
func across(f device.Foot, medialMM float64) float64 {
	if f == device.Right {
		return -medialMM
	}
	return medialMM
}

// onPage returns a point as seen from above through the foot, front up, to 0.1 mm.
func onPage(f device.Foot, p platform.Point) *[2]float64 {
	return &[2]float64{tenths(across(f, p[0])), tenths(-p[1])}
}

func tenths(v float64) float64 { return math.Round(10*v) / 10 }

func shapeOf(f device.Foot, outline, kern platform.Polygon) *shapeNews {
	return &shapeNews{pathOf(f, outline), pathOf(f, kern)}
}

// pathOf returns a polygon as a path of SVG.
func pathOf(f device.Foot, p platform.Polygon) string {
	var b strings.Builder
	for i, q := range p {
		letter := "L"
		if i == 0 {
			letter = "M"
		}
		fmt.Fprintf(&b, "%s%.2f %.2f", letter, across(f, q[0]), -q[1])
	}
	return b.String() + "Z"
}

// around returns a box that holds another one and an outline under either foot, with 1 mm
// around it.
func around(box [4]float64, outline platform.Polygon) [4]float64 {
	lo, hi := outline.Bounds()
	halfWidth := max(box[2]/2, math.Ceil(max(-lo[0], hi[0]))+1)
	halfDepth := max(box[3]/2, math.Ceil(max(-lo[1], hi[1]))+1)
	return [4]float64{-halfWidth, -halfDepth, 2 * halfWidth, 2 * halfDepth}
}

func shoeOf(s Shoe) shoeNews {
	n := shoeNews{Code: s.Code}
	for f, foot := range s.Feet {
		if foot == nil {
			continue
		}
		one := &standingNews{shapeNews: *shapeOf(device.Foot(f), foot.Outline, foot.Kern), At: *onPage(device.Foot(f), foot.At)}
		one.Words = largeWords(device.Foot(f), foot.Verdict, foot.Misses, foot.At[0])
		one.Says = fmt.Sprintf("%s: %s", words.Count(foot.Releves, "relevé", "relevés"), words.LoadAt(foot.Verdict, foot.Misses, foot.At[0]))
		n.Feet[f] = one
	}
	return n
}
