package logbook

import (
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze/plan"
	"aplomb/device"
)

// model is what a logbook should hold, kept in the simplest way.
type model struct {
	dancers map[string]Dancer
	visits  map[int64]Visit
	shoes   map[string]*modelShoe
	kept    map[int64]modelRecording
	plans   map[int64][]string // by visit: shoe and mounting of every step
}

type modelShoe struct {
	owner    string
	versions map[int]modelVersion
	current  int
}

type modelVersion struct {
	shoe    device.Shoe
	entered bool
}

type modelRecording struct {
	visit   int64
	shoe    string
	version int
	path    string
}

// used reports whether a recording was made with a version of a shoe, any with 0.
func (m *model) used(shoe string, version int) bool {
	for _, r := range m.kept {
		if r.shoe == shoe && (version == 0 || r.version == version) {
			return true
		}
	}
	return false
}

func (m *model) of(shoe device.Shoe) (version int) {
	s := m.shoes[shoe.Code]
	for n, v := range s.versions {
		if device.TOML(&v.shoe) == device.TOML(&shoe) {
			return n
		}
	}
	return 0
}

func (s *modelShoe) latest() int { return slices.Max(append(slices.Collect(maps.Keys(s.versions)), 0)) }

// forget drops items known only from recordings.
func (m *model) forget() {
	for code, s := range m.shoes {
		maps.DeleteFunc(s.versions, func(n int, v modelVersion) bool { return !v.entered && !m.used(code, n) })
		if len(s.versions) == 0 {
			m.drop(code)
		}
		if !s.versions[s.current].entered {
			s.current = s.latest()
		}
	}
}

// drop removes a shoe and its steps of plans.
func (m *model) drop(code string) {
	delete(m.shoes, code)
	for visit, steps := range m.plans {
		m.plans[visit] = slices.DeleteFunc(steps, func(s string) bool { return strings.HasPrefix(s, code+" ") })
	}
}

// worn returns shoe and mounting of every step of a plan.
func worn(p plan.Plan) (all []string) {
	for _, s := range p.Steps {
		all = append(all, fmt.Sprintf("%s %d", s.Shoe, s.Mounting))
	}
	return all
}

var (
	modelDancers = []string{"D1", "D2", "D3"}
	modelShoes   = []string{"A", "B"}
)

func TestLogbookIsLikeAMap(t *testing.T) {
	dir, runs := t.TempDir(), 0
	rapid.Check(t, func(t *rapid.T) {
		runs++
		l, err := Open(filepath.Join(dir, fmt.Sprint(runs)))
		require.NoError(t, err)
		defer l.Close()
		_, err = l.db.Exec(`PRAGMA synchronous = off`) // power stays on, and waiting for the disk is most of the time
		require.NoError(t, err)
		m := &model{map[string]Dancer{}, map[int64]Visit{}, map[string]*modelShoe{}, map[int64]modelRecording{}, map[int64][]string{}}
		dancer, code := rapid.SampledFrom(modelDancers), rapid.SampledFrom(modelShoes)
		drawShoe := func(t *rapid.T) device.Shoe {
			s := shoe(code.Draw(t, "shoe"))
			s.HoursWorn = float64(rapid.IntRange(0, 2).Draw(t, "hours"))
			return s
		}
		pick := func(t *rapid.T, ids []int64) int64 {
			slices.Sort(ids)
			return rapid.SampledFrom(append(ids, 1<<40)).Draw(t, "id") // and one that is not there
		}
		// agrees asserts that err is nil where the model says it works, and else of a kind.
		agrees := func(err error, works bool, kinds ...error) {
			if works {
				require.NoError(t, err)
				return
			}
			require.True(t, slices.ContainsFunc(kinds, func(k error) bool { return errors.Is(err, k) }), "%v", err)
		}
		minute := 0
		t.Repeat(map[string]func(*rapid.T){
			"add dancer": func(t *rapid.T) {
				d := Dancer{Code: dancer.Draw(t, "dancer"), BirthYear: rapid.IntRange(2000, 2010).Draw(t, "year")}
				_, there := m.dancers[d.Code]
				agrees(l.AddDancer(d), !there, ErrExists)
				if !there {
					m.dancers[d.Code] = d
				}
			},
			"edit dancer": func(t *rapid.T) {
				d := Dancer{Code: dancer.Draw(t, "dancer"), Note: rapid.StringMatching(`[a-z' ]*`).Draw(t, "note")}
				_, there := m.dancers[d.Code]
				agrees(l.EditDancer(d), there, ErrNotFound)
				if there {
					m.dancers[d.Code] = d
				}
			},
			"delete dancer": func(t *rapid.T) {
				d := dancer.Draw(t, "dancer")
				_, there := m.dancers[d]
				_, err := l.DeleteDancer(bg, d)
				agrees(err, there, ErrNotFound)
				if !there {
					return
				}
				delete(m.dancers, d)
				maps.DeleteFunc(m.kept, func(_ int64, r modelRecording) bool { return m.visits[r.visit].Dancer == d })
				maps.DeleteFunc(m.plans, func(id int64, _ []string) bool { return m.visits[id].Dancer == d })
				maps.DeleteFunc(m.visits, func(_ int64, v Visit) bool { return v.Dancer == d })
				for _, s := range m.shoes {
					if s.owner != d {
						continue
					}
					s.owner = ""
					for n, v := range s.versions {
						s.versions[n] = modelVersion{shoe: v.shoe}
					}
				}
				m.forget()
			},
			"add visit": func(t *rapid.T) {
				v := Visit{Dancer: dancer.Draw(t, "dancer"), Day: Day(fmt.Sprintf("2026-03-%02d", rapid.IntRange(1, 2).Draw(t, "day")))}
				_, there := m.dancers[v.Dancer]
				added, err := l.AddVisit(v)
				agrees(err, there, ErrNotFound)
				if there {
					m.visits[added.ID] = added
				}
			},
			"remove visit": func(t *rapid.T) {
				id := pick(t, slices.Collect(maps.Keys(m.visits)))
				_, there := m.visits[id]
				used := false
				for _, r := range m.kept {
					used = used || r.visit == id
				}
				agrees(l.RemoveVisit(id), there && !used, ErrNotFound, ErrInUse)
				if there && !used {
					delete(m.visits, id)
					delete(m.plans, id)
				}
			},
			"add shoe": func(t *rapid.T) {
				s, owner := drawShoe(t), rapid.SampledFrom(append([]string{""}, modelDancers...)).Draw(t, "owner")
				_, known := m.dancers[owner]
				_, there := m.shoes[s.Code]
				works := !there && (known || owner == "")
				agrees(l.AddShoe(Shoe{Shoe: s, Owner: owner}), works, ErrExists, ErrNotFound)
				if works {
					m.shoes[s.Code] = &modelShoe{owner, map[int]modelVersion{1: {s, true}}, 1}
				}
			},
			"edit shoe": func(t *rapid.T) {
				s := drawShoe(t)
				kept, there := m.shoes[s.Code]
				agrees(l.EditShoe(Shoe{Shoe: s}), there, ErrNotFound)
				if !there {
					return
				}
				kept.owner = ""
				n := m.of(s)
				if n == 0 && m.used(s.Code, kept.current) {
					n = kept.latest() + 1
				} else if n == 0 {
					n = kept.current
				}
				kept.versions[n], kept.current = modelVersion{s, true}, n
			},
			"remove shoe": func(t *rapid.T) {
				c := code.Draw(t, "shoe")
				_, there := m.shoes[c]
				agrees(l.RemoveShoe(c), there && !m.used(c, 0), ErrNotFound, ErrInUse)
				if there && !m.used(c, 0) {
					m.drop(c)
				}
			},
			"plan": func(t *rapid.T) {
				id := pick(t, slices.Collect(maps.Keys(m.visits)))
				_, works := m.visits[id]
				shoes := rapid.SliceOfN(code, 1, 3).Draw(t, "shoes")
				for _, c := range shoes {
					works = works && m.shoes[c] != nil
				}
				p := steps(5, shoes...)
				agrees(l.PutPlan(id, p), works, ErrNotFound)
				if works {
					m.plans[id] = worn(p)
				}
			},
			"record": func(t *rapid.T) {
				v, there := m.visits[pick(t, slices.Collect(maps.Keys(m.visits)))]
				if !there {
					return
				}
				s := drawShoe(t)
				minute++
				about := about(v.Dancer, v.Name(), s)
				about.Started = about.Started.Add(time.Duration(minute) * time.Minute)
				path := l.NewRecordingPath(about.Started)
				record(t, path, about)
				r, err := l.AddRecording(bg, path, v.ID)
				require.NoError(t, err)
				if m.shoes[s.Code] == nil {
					m.shoes[s.Code] = &modelShoe{versions: map[int]modelVersion{}}
				}
				kept := m.shoes[s.Code]
				n := m.of(s)
				if n == 0 {
					n = kept.latest() + 1
					kept.versions[n] = modelVersion{shoe: s}
				}
				m.kept[r.ID] = modelRecording{v.ID, s.Code, n, r.Path}
				m.forget()
			},
			"remove recording": func(t *rapid.T) {
				id := pick(t, slices.Collect(maps.Keys(m.kept)))
				_, there := m.kept[id]
				agrees(l.RemoveRecording(id), there, ErrNotFound)
				if there {
					delete(m.kept, id)
					m.forget()
				}
			},
			"": func(t *rapid.T) { m.same(t, l) },
		})
		findings, err := l.Check(bg)
		require.NoError(t, err)
		require.Empty(t, findings)
	})
}

// same asserts that the logbook's content equals the model's.
func (m *model) same(t *rapid.T, l *Logbook) {
	dancers, err := l.Dancers()
	require.NoError(t, err)
	require.Len(t, dancers, len(m.dancers))
	visits := 0
	for _, d := range dancers {
		require.Equal(t, m.dancers[d.Code], d)
		all, err := l.Visits(d.Code)
		require.NoError(t, err)
		for _, v := range all {
			require.Equal(t, m.visits[v.ID], v)
			p, err := l.Plan(v.ID)
			if len(m.plans[v.ID]) == 0 {
				require.ErrorIs(t, err, ErrNotFound)
			} else {
				require.Equal(t, m.plans[v.ID], worn(p))
			}
		}
		visits += len(all)
	}
	require.Len(t, m.visits, visits)
	shoes, err := l.Shoes()
	require.NoError(t, err)
	require.Len(t, shoes, len(m.shoes))
	for code, want := range m.shoes {
		all, err := l.ShoeVersions(code)
		require.NoError(t, err)
		require.Len(t, all, len(want.versions))
		for _, s := range all {
			require.Equal(t, Shoe{
				Shoe: want.versions[s.Version].shoe, Owner: want.owner, Version: s.Version,
				Current: s.Version == want.current, Used: m.used(code, s.Version),
			}, s)
		}
	}
	kept, err := l.Recordings(Filter{})
	require.NoError(t, err)
	require.Len(t, kept, len(m.kept))
	for _, r := range kept {
		want := m.kept[r.ID]
		require.Equal(t, want, modelRecording{r.VisitID, r.Feet[0].Shoe, r.Feet[0].ShoeVersion, r.Path})
		require.Equal(t, r.Feet[0].ShoeVersion, r.Feet[1].ShoeVersion)
	}
	entries, err := os.ReadDir(filepath.Join(l.Dir(), recordings))
	require.NoError(t, err)
	require.Len(t, entries, len(m.kept))
}
