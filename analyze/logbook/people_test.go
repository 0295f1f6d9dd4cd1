package logbook

import (
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// strange are codes that break what splices them into SQL, paths or pages.
var strange = []string{
	"a/b", `a\b`, "../../etc", "..", ".", "a b", "Ünï-コード", "Robert'); DROP TABLE dancers;--", `"quoted"`, "'", "<script>alert(1)</script>",
	"%s%d", "*", "?", "-rf", "~", "$HOME", "NUL", "a;b", "[a]", strings.Repeat("é", 60),
}

func TestStrangeCodesAreCodes(t *testing.T) {
	l := begin(t)
	for _, code := range strange {
		require.NoError(t, l.AddDancer(Dancer{Code: code, Note: code}), code)
		require.NoError(t, l.AddShoe(Shoe{Shoe: shoe(code), Owner: code}), code)
		d, err := l.Dancer(code)
		require.NoError(t, err)
		assert.Equal(t, Dancer{Code: code, Note: code}, d)
		s, err := l.Shoe(code)
		require.NoError(t, err)
		assert.Equal(t, code, s.Owner)
	}
	all, err := l.Dancers()
	require.NoError(t, err)
	assert.Len(t, all, len(strange))
}

// A recording's code never becomes part of its path.
func TestCodesAreNotPartOfPaths(t *testing.T) {
	l := begin(t)
	for i, code := range strange {
		m := about(code, "", shoe(code))
		m.Started = m.Started.Add(time.Duration(i) * time.Minute)
		r := keep(t, l, visit(t, l, code), m)
		assert.Regexp(t, `^[0-9TZ]+-[a-z2-7]{8}\.mcap$`, strings.TrimPrefix(r.Path, l.Dir()+"/recordings/"))
	}
	assert.Len(t, files(t, l.Dir()), len(strange)+3, "recordings, and the database's three files")
}

func TestWhatIsNoCode(t *testing.T) {
	l := begin(t)
	for _, code := range []string{"", " ", "\t", "a\nb", "a\x00b", "\xff", "\u200b", "a\u202eb", strings.Repeat("x", 61), strings.Repeat("x", 300)} {
		oneLine(t, l.AddDancer(Dancer{Code: code}), ErrInvalid)
		oneLine(t, l.AddShoe(Shoe{Shoe: shoe(code)}), ErrInvalid)
		_, err := l.Dancer(code)
		oneLine(t, err, ErrNotFound)
		_, err = l.Shoe(code)
		oneLine(t, err, ErrNotFound)
		_, err = l.Strip(code)
		oneLine(t, err, ErrNotFound)
	}
}

// Codes that people read as equal are equal: other case, other width, a letter composed
// or not (Unicode Standard Annex 15), other spacing; and the German sharp s, whose case
// folding is ss (Unicode Character Database, CaseFolding).
func TestSpellingsOfOneCode(t *testing.T) {
	for _, same := range [][2]string{
		{"D7", "d7"}, {"D7", "Ｄ７"}, {"Zo\u00eb", "Zoe\u0308"}, {"a  b", " A b "}, {"Gro\u00df", "GROSS"}, {"ﬁ", "FI"},
	} {
		l := begin(t)
		require.NoError(t, l.AddDancer(Dancer{Code: same[0]}))
		oneLine(t, l.AddDancer(Dancer{Code: same[1]}), ErrExists, same[0])
		d, err := l.Dancer(same[1])
		require.NoError(t, err)
		assert.Equal(t, same[0], d.Code)
	}
	assert.NotEqual(t, keyOf("D7"), keyOf("D-7"))
	assert.NotEqual(t, keyOf("Zoe"), keyOf("Zoë"))
}

// The test covers every letter that has a case: none lies beyond U+1FFFF.
func TestKeysIgnoreCase(t *testing.T) {
	for r := rune(1); r < 0x20000; r++ {
		if !unicode.IsPrint(r) || r == 'İ' { // its dot stays (Unicode Character Database, CaseFolding)
			continue
		}
		key := keyOf(string(r))
		if key != keyOf(key) || key != keyOf(string(unicode.ToLower(r))) || key != keyOf(string(unicode.ToUpper(r))) {
			t.Errorf("%U %c has the key %q, its key %q, in lower case %q, in upper case %q",
				r, r, key, keyOf(key), keyOf(string(unicode.ToLower(r))), keyOf(string(unicode.ToUpper(r))))
		}
	}
}

func FuzzCode(f *testing.F) {
	for _, code := range strange {
		f.Add(code)
	}
	f.Add("\xf2")
	f.Add("e\u0345\u0301ß\u1e9e")
	l := begin(f)
	f.Fuzz(func(t *testing.T, code string) {
		key := keyOf(code)
		assert.Equal(t, key, keyOf(key), "a key is its own key")
		err := l.AddDancer(Dancer{Code: code})
		if checkCode("dancer", code) != nil {
			require.ErrorIs(t, err, ErrInvalid)
			return
		}
		require.NoError(t, err)
		assert.Equal(t, key, keyOf(" "+code+" "), "spaces around it do not matter")
		d, err := l.Dancer(code)
		require.NoError(t, err)
		require.Equal(t, code, d.Code)
		require.ErrorIs(t, l.AddDancer(Dancer{Code: code}), ErrExists)
		_, err = l.db.Exec(`DELETE FROM dancers`) // erasing every page would take most of the time
		require.NoError(t, err)
	})
}

func TestDancerKeepsAllThatIsKnown(t *testing.T) {
	l := begin(t)
	d := Dancer{
		Code: "D7", BirthYear: 2008, PointeYears: ptr(0.0), Watched: "right", Note: "first line\nsecond, 'quoted'",
		Feet:    [2]Foot{{ToeShape: "peaked", LongestToe: 2, Width: "narrow", Compressibility: "high"}, {LongestToe: 1}},
		Consent: ConsentSharing, ConsentDay: "2026-03-01",
	}
	require.NoError(t, l.AddDancer(d))
	got, err := l.Dancer("D7")
	require.NoError(t, err)
	assert.Equal(t, d, got)
	require.NoError(t, l.EditDancer(Dancer{Code: "d7"}))
	got, err = l.Dancer("D7")
	require.NoError(t, err)
	assert.Equal(t, Dancer{Code: "D7"}, got)
	oneLine(t, l.EditDancer(Dancer{Code: "D8"}), ErrNotFound, `"D8"`)
	for _, wrong := range []Dancer{
		{Code: "D9", BirthYear: 1066}, {Code: "D9", PointeYears: ptr(-1.0)}, {Code: "D9", Watched: "both"}, {Code: "D9", Note: "\x1b[31m"},
		{Code: "D9", Consent: "yes"}, {Code: "D9", ConsentDay: "2026-03-01"}, {Code: "D9", Consent: ConsentStudy, ConsentDay: "1 March"},
		{Code: "D9", Feet: [2]Foot{{Width: "huge"}}}, {Code: "D9", Feet: [2]Foot{{}, {LongestToe: 6}}}, {Code: "D9", Feet: [2]Foot{{}, {ToeShape: "x"}}},
	} {
		oneLine(t, l.AddDancer(wrong), ErrInvalid)
	}
}

func TestVisits(t *testing.T) {
	l := begin(t)
	require.NoError(t, l.AddDancer(Dancer{Code: "D7"}))
	v := Visit{
		Dancer: "d7", Day: "2026-03-14", Support: "barre", Rise: "step", Position: "first", Floor: "vinyl", MassKG: 55.5,
		PainBefore: ptr(0), PainAfter: ptr(3), Baseline: true, Note: "new pair",
	}
	first, err := l.AddVisit(v)
	require.NoError(t, err)
	second, err := l.AddVisit(Visit{Dancer: "D7", Day: "2026-03-14"})
	require.NoError(t, err)
	earlier, err := l.AddVisit(Visit{Dancer: "D7", Day: "2026-03-01"})
	require.NoError(t, err)
	assert.Equal(t, []string{"2026-03-14", "2026-03-14-2", "2026-03-01"}, []string{first.Name(), second.Name(), earlier.Name()})

	all, err := l.Visits("D7")
	require.NoError(t, err)
	first.Dancer = "D7"
	assert.Equal(t, []Visit{earlier, first, second}, all)
	got, err := l.VisitNamed("D7", "2026-03-14-2")
	require.NoError(t, err)
	assert.Equal(t, second, got)

	second.PainAfter = ptr(5)
	require.NoError(t, l.EditVisit(second))
	got, err = l.Visit(second.ID)
	require.NoError(t, err)
	assert.Equal(t, 5, *got.PainAfter)
	second.Day = "2026-03-15"
	oneLine(t, l.EditVisit(second), ErrInvalid)
	require.NoError(t, l.RemoveVisit(second.ID))
	oneLine(t, l.RemoveVisit(second.ID), ErrNotFound)
	_, err = l.VisitNamed("D7", "2026-03-14-2")
	oneLine(t, err, ErrNotFound)
	_, err = l.Visits("nobody")
	oneLine(t, err, ErrNotFound)
	_, err = l.AddVisit(Visit{Dancer: "nobody", Day: "2026-03-14"})
	oneLine(t, err, ErrNotFound)
}

func TestVisitsThatCannotBe(t *testing.T) {
	l := begin(t)
	require.NoError(t, l.AddDancer(Dancer{Code: "D7"}))
	now := time.Now()
	_, err := l.AddVisit(Visit{Dancer: "D7", Day: DayOf(now.AddDate(0, 0, 1))})
	assert.NoError(t, err, "a clock may be a day off")
	for _, v := range []Visit{
		{Day: DayOf(now.AddDate(0, 0, 2))}, {}, {Day: "2026-02-30"}, {Day: "14.3.2026"}, {Day: "2026-3-4"}, {Day: "2026-03-14", Support: "wall"},
		{Day: "2026-03-14", Rise: "jump"}, {Day: "2026-03-14", MassKG: -1}, {Day: "2026-03-14", MassKG: 1000}, {Day: "2026-03-14", PainAfter: ptr(11)},
		{Day: "2026-03-14", PainBefore: ptr(-1)}, {Day: "2026-03-14", Note: "\x00"},
	} {
		v.Dancer = "D7"
		_, err := l.AddVisit(v)
		oneLine(t, err, ErrInvalid)
	}
	for _, name := range []string{"", "2026", "2026-03-14-1", "2026-03-14-0", "2026-03-14--2", "2026-03-14-2x", "2026-03-14/2", "../../x"} {
		_, err := l.VisitNamed("D7", name)
		oneLine(t, err, ErrInvalid)
	}
}

func TestVisitNamesReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := Visit{Day: DayOf(time.Unix(rapid.Int64Range(0, 4e9).Draw(t, "second"), 0)), Number: rapid.IntRange(1, 1000).Draw(t, "number")}
		day, number, err := parseVisit(v.Name())
		require.NoError(t, err)
		require.Equal(t, v, Visit{Day: day, Number: number})
	})
}

func TestAdvice(t *testing.T) {
	for _, c := range []struct {
		before, after *int
		stop          bool
	}{
		{nil, nil, false}, {ptr(0), ptr(0), false}, {ptr(0), ptr(1), false}, {ptr(3), ptr(3), false}, {ptr(2), ptr(3), false}, {ptr(3), ptr(1), false},
		{ptr(3), nil, false}, {nil, ptr(3), false},
		{ptr(4), nil, true}, {nil, ptr(4), true}, {ptr(0), ptr(2), true}, {ptr(1), ptr(3), true}, {ptr(5), ptr(0), true}, {ptr(10), ptr(10), true},
	} {
		advice := Visit{PainBefore: c.before, PainAfter: c.after}.Advice()
		forClinician := strings.Replace(advice, "Hand over to the dancer's clinician. ", "", 1)
		assert.Equal(t, forClinician, Visit{PainBefore: c.before, PainAfter: c.after}.Stop())
		assert.Equal(t, c.stop, advice != "", "%v", advice)
		if c.stop {
			assert.Contains(t, advice, "clinician")
			assert.Contains(t, advice, "our own cautious default")
		}
	}
}

func TestDefaultDir(t *testing.T) {
	for _, c := range []struct {
		env  map[string]string
		want string
	}{
		{map[string]string{"APLOMB_LOGBOOK": "/a/b", "XDG_DATA_HOME": "/x", "HOME": "/h"}, "/a/b"},
		{map[string]string{"XDG_DATA_HOME": "/x", "HOME": "/h"}, "/x/aplomb"},
		// "All paths set in these environment variables must be absolute ... ignore it" (XDG Base Directory Specification).
		{map[string]string{"XDG_DATA_HOME": "x", "HOME": "/h"}, "/h/.local/share/aplomb"},
		{map[string]string{"HOME": "/h"}, "/h/.local/share/aplomb"},
		{map[string]string{"LOCALAPPDATA": "/l"}, "/l/aplomb"},
	} {
		got, err := DefaultDir(func(k string) string { return c.env[k] })
		require.NoError(t, err)
		assert.Equal(t, c.want, got)
	}
	_, err := DefaultDir(func(string) string { return "" })
	assert.ErrorContains(t, err, "APLOMB_LOGBOOK")
}

func TestDayOfUsesTheZoneOfTheTime(t *testing.T) {
	late := time.Date(2026, 3, 14, 23, 30, 0, 0, time.FixedZone("", -5*3600))
	assert.Equal(t, Day("2026-03-14"), DayOf(late))
	assert.Equal(t, Day("2026-03-15"), DayOf(late.UTC()))
	assert.Equal(t, 31*24*time.Hour, Day("2026-02-01").Time().Sub(Day("2026-01-01").Time()))
}
