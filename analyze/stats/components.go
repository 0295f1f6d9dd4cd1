package stats

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// Effects is the design of a random-effects model: value = mean + effects of the groups
// that the value belongs to + residual. All effects are random and independent.
type Effects struct {
	// Nested[l][i] is the group of value i at level l, outermost level first. Every group
	// of a level lies within one group of the level before it.
	Nested [][]int
	// Crossed[i] is the group of value i in a factor that may cross all levels; nil without
	// such a factor.
	Crossed []int
}

// VarianceComponent is the variance of one effect.
type VarianceComponent struct {
	Variance float64  // in the square of the values' unit, at least 0
	SD95     Interval // 95 % interval of its square root
	DOF      float64  // effective degrees of freedom of Variance; 0 where it is 0
}

// ErrNoScatter is the error of values that show no residual scatter.
var ErrNoScatter = errors.New("values do not scatter within the innermost groups")

// FitComponents estimates the variances of a random-effects model by restricted maximum
// likelihood (Patterson & Thompson, Biometrika 58 (1971) 545-554), of which a balanced
// analysis of variance with positive estimates is a special case. Numbers of values may
// differ between groups. The result has a component a nested level, one for the crossed
// factor where there is one, and that of the residual last.
//
// An interval is where the restricted likelihood, maximized over the other variances, is
// at least exp(−3.84/2) of its maximum. Its lower end is 0 where a variance of 0 is within
// that. Degrees of freedom come from the curvature of the same curve, 2·variance² ÷ the
// variance of the estimate; for a residual they are those of the analysis of variance. The
// tests hold estimates against lme4 of R and intervals against a direct computation.
//
// The error is ErrNoScatter where no innermost group holds two different values.
func FitComponents(values []float64, e Effects) ([]VarianceComponent, error) {
	m := newEffectsModel(values, e)
	if !(m.within > 0) {
		return nil, ErrNoScatter
	}
	n := m.parts()
	start := make([]float64, n)
	for k := range start {
		start[k] = math.Sqrt(m.total / float64(n))
	}
	start[n-1] = math.Sqrt(m.within)
	best, at := m.minimize(start, -1)
	out := make([]VarianceComponent, n)
	for k := range out {
		out[k] = m.component(k, best, at)
	}
	return out, nil
}

// effectsModel evaluates the restricted likelihood of standard deviations.
type effectsModel struct {
	roots   []*effectsNode
	columns int     // of the matrices: ones, the groups of the crossed factor, values
	crossed bool    // whether there is a crossed factor
	levels  int     // nested levels
	n       float64 // number of values
	total   float64 // their variance
	within  float64 // mean square within the innermost groups, 0 without degrees of freedom

	scratch [][]float64 // a matrix for the groups of every level
}

// effectsNode is a group of a nested level. An innermost group has the sums of squares and
// products of its columns.
type effectsNode struct {
	children []*effectsNode
	values   float64
	products []float64
}

// parts returns the number of variances.
func (m *effectsModel) parts() int {
	n := m.levels + 1
	if m.crossed {
		n++
	}
	return n
}

func newEffectsModel(values []float64, e Effects) *effectsModel {
	m := &effectsModel{columns: 2, levels: len(e.Nested), n: float64(len(values))}
	if e.Crossed != nil {
		m.crossed = true
		m.columns += slices.Max(e.Crossed) + 1
	}
	mean := 0.0
	for _, v := range values {
		mean += v / m.n
	}
	dof := m.n
	var build func(of []int, level int) *effectsNode
	build = func(of []int, level int) *effectsNode {
		node := &effectsNode{values: float64(len(of))}
		if level == m.levels {
			node.products = make([]float64, m.columns*m.columns)
			own := 0.0
			for _, i := range of {
				own += values[i] / node.values
			}
			for _, i := range of {
				row := make([]float64, m.columns)
				row[0], row[m.columns-1] = 1, values[i]-mean
				if m.crossed {
					row[1+e.Crossed[i]] = 1
				}
				for a, x := range row {
					for b, y := range row {
						node.products[a*m.columns+b] += x * y
					}
				}
				m.within += (values[i] - own) * (values[i] - own)
				m.total += (values[i] - mean) * (values[i] - mean) / (m.n - 1)
			}
			dof--
			return node
		}
		groups := map[int][]int{}
		var order []int
		for _, i := range of {
			g := e.Nested[level][i]
			if groups[g] == nil {
				order = append(order, g)
			}
			groups[g] = append(groups[g], i)
		}
		for _, g := range order {
			node.children = append(node.children, build(groups[g], level+1))
		}
		return node
	}
	all := make([]int, len(values))
	for i := range all {
		all[i] = i
	}
	m.roots = []*effectsNode{build(all, 0)}
	if m.within /= dof; dof == 0 {
		m.within = 0
	}
	for range e.Nested {
		m.scratch = append(m.scratch, make([]float64, m.columns*m.columns))
	}
	return m
}

// add adds W'V⁻¹W of a node to sum, where W has the columns of the model and V is the
// covariance of the node's values, and returns log|V|. variances are those of the nested
// levels, outermost first, then that of the residual. depth is the level of the node's children.
//
// An effect that the values of a group share adds τ·11' to V. By the formula of Sherman
// and Morrison V⁻¹ then loses τ·V⁻¹11'V⁻¹/(1 + τ·1'V⁻¹1), and |V| grows by the factor
// 1 + τ·1'V⁻¹1; ones are the first column of W.
func (m *effectsModel) add(node *effectsNode, variances []float64, depth int, sum []float64) (logDet float64) {
	residual := variances[m.levels]
	if node.products != nil {
		for i, p := range node.products {
			sum[i] += p / residual
		}
		return node.values * math.Log(residual)
	}
	c, part, factors := m.columns, m.scratch[depth], 1.0
	for _, child := range node.children {
		clear(part)
		logDet += m.add(child, variances, depth+1, part)
		tau := variances[depth]
		grown := 1 + tau*part[0]
		if factors *= grown; factors > 1e200 {
			logDet, factors = logDet+math.Log(factors), 1
		}
		for a := range c {
			for b := range c {
				sum[a*c+b] += part[a*c+b] - tau*part[a*c]*part[b]/grown
			}
		}
	}
	return logDet + math.Log(factors)
}

// deviance returns −2 × the logarithm of the restricted likelihood, but for a constant, for
// standard deviations in the order of FitComponents. Signs do not matter.
func (m *effectsModel) deviance(sd []float64) float64 {
	variances := make([]float64, m.levels+1)
	for l := range m.levels {
		variances[l] = sd[l] * sd[l]
	}
	last := sd[len(sd)-1]
	variances[m.levels] = last * last
	if last == 0 {
		return math.Inf(1)
	}
	c := m.columns
	sum := make([]float64, c*c)
	logDet := m.add(m.roots[0], variances, 0, sum)
	// The crossed effects count as coefficients with a prior of variance tau.
	tau := 0.0
	if m.crossed {
		tau = math.Abs(sd[m.levels])
	}
	k := c - 1
	scale := func(a int) float64 {
		if a == 0 {
			return 1
		}
		return tau
	}
	system := mat.NewSymDense(k, nil)
	right := mat.NewVecDense(k, nil)
	for a := range k {
		for b := a; b < k; b++ {
			v := sum[a*c+b] * scale(a) * scale(b)
			if a == b && a > 0 {
				v++
			}
			system.SetSym(a, b, v)
		}
		right.SetVec(a, sum[a*c+k]*scale(a))
	}
	var chol mat.Cholesky
	if !chol.Factorize(system) {
		return math.Inf(1)
	}
	var solved mat.VecDense
	if err := chol.SolveVecTo(&solved, right); err != nil {
		return math.Inf(1)
	}
	return logDet + chol.LogDet() + sum[c*c-1] - mat.Dot(right, &solved)
}

// minimize returns the least deviance, and where it is, starting from standard deviations.
// That at held, if not negative, stays as it is.
func (m *effectsModel) minimize(start []float64, held int) (least float64, at []float64) {
	full := slices.Clone(start)
	free := func(x []float64) []float64 {
		at := 0
		for k := range full {
			if k != held {
				full[k] = x[at]
				at++
			}
		}
		return full
	}
	var x []float64
	for k, v := range start {
		if k != held {
			x = append(x, v)
		}
	}
	least = m.deviance(full)
	if len(x) == 0 {
		return least, full
	}
	size := math.Sqrt(m.total)
	problem := optimize.Problem{Func: func(x []float64) float64 { return m.deviance(free(x)) }}
	step := 0.3 * size
	if held >= 0 {
		step = 0.03 * size // start is near
	}
	for ; ; step /= 4 {
		settings := &optimize.Settings{
			FuncEvaluations: 4000,
			Converger:       &optimize.FunctionConverge{Absolute: 1e-10, Iterations: 40},
		}
		r, err := optimize.Minimize(problem, x, settings, &optimize.NelderMead{SimplexSize: step})
		if r == nil || err != nil && !(r.F < least) {
			break
		}
		gained := least - r.F
		if gained > 0 {
			least, x = r.F, slices.Clone(r.X)
		}
		if gained < 1e-8 && step < 0.1*size {
			break
		}
	}
	return least, slices.Clone(free(x))
}

// likely is the 95 % quantile of chi-squared with one degree of freedom.
const likely = 3.841458820694124

// component returns the component at k, where the deviance is least at the standard
// deviations at.
func (m *effectsModel) component(k int, least float64, at []float64) VarianceComponent {
	// Each minimum starts from that of the standard deviation before.
	near := slices.Clone(at)
	above := func(sd float64) float64 {
		start := slices.Clone(near)
		start[k] = sd
		d, where := m.minimize(start, k)
		near = where
		return d - least
	}
	size := math.Sqrt(m.total)
	sd := math.Abs(at[k])
	if sd < 1e-4*size && above(0) < 1e-6 {
		sd = 0
	}
	c := VarianceComponent{Variance: sd * sd}
	if sd > 0 {
		near = slices.Clone(at)
		const h = 0.02
		curvature := (above(sd*math.Sqrt(1+h)) + above(sd*math.Sqrt(1-h))) / (h * h) // in relative variance
		c.DOF = curvature
		if near = slices.Clone(at); above(0) > likely {
			near = slices.Clone(at)
			c.SD95.Lo = crossing(above, sd, 0)
		}
	}
	near = slices.Clone(at)
	in, out := sd, max(2*sd, 0.1*size)
	for above(out) < likely {
		if in, out = out, 2*out; out > 1e6*size {
			c.SD95.Hi = math.Inf(1)
			return c
		}
	}
	c.SD95.Hi = crossing(above, in, out)
	return c
}

// crossing returns where above crosses likely between in, where it is below, and out, where
// it is not. It interpolates the square root of above, which is nearly straight, and halves
// the interval where that has not halved it.
func crossing(above func(float64) float64, in, out float64) float64 {
	height := func(x float64) float64 { return math.Sqrt(max(0, above(x))) - math.Sqrt(likely) }
	low, high := height(in), height(out)
	for range 60 {
		wide := math.Abs(out - in)
		if wide <= 1e-5*max(in, out) {
			break
		}
		x := in + (out-in)*min(0.999, max(0.001, -low/(high-low)))
		h := height(x)
		if h < 0 {
			in, low = x, h
		} else {
			out, high = x, h
		}
		if math.Abs(h) < 1e-5 {
			return x
		}
		if math.Abs(out-in) > wide/2 {
			x = (in + out) / 2
			if h = height(x); h < 0 {
				in, low = x, h
			} else {
				out, high = x, h
			}
		}
	}
	return (in + out) / 2
}
