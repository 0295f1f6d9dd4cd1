"""Prints reference.json: numbers of scipy that the tests of this package are held against.

    python3 reference.py > reference.json        (made with scipy 1.10.1, numpy 1.24.2)
"""
import json

import numpy as np
import scipy
from scipy import integrate, stats

rng = np.random.default_rng(1908)

t_quantiles = [
    {"p": p, "dof": dof, "t": stats.t.ppf(p, dof)}
    for dof in (0.5, 1, 1.5, 2, 3.7, 10, 30.3, 1e3, 1e5, 1e7, 1e9)
    for p in (0.0001, 0.025, 0.4, 0.5, 0.9, 0.975, 0.9999)
]

f_quantiles = [{"m": m, "f": stats.f.ppf(0.95, 2, m)} for m in (1, 2, 3, 8, 28, 98, 5000)]

t_tests = []
for na, nb, scale, shift in ((2, 2, 1, 0), (3, 9, 4, 1), (12, 5, 0.1, -0.5), (30, 30, 1, 3)):
    a, b = rng.normal(0, 1, na), rng.normal(shift, scale, nb)
    w = stats.ttest_ind(a, b, equal_var=False)
    case = {"a": list(a), "b": list(b), "welch_t": w.statistic, "welch_p": w.pvalue}
    if na == nb:
        q = stats.ttest_rel(a, b)
        case |= {"paired_t": q.statistic, "paired_p": q.pvalue}
    t_tests.append(case)

masses = []
for _ in range(40):
    corners = rng.integers(3, 9)
    angle = np.sort(rng.uniform(0, 2 * np.pi, corners))
    if np.max(np.diff(np.append(angle, angle[0] + 2 * np.pi))) > np.pi:
        continue
    centre, half = rng.normal(0, 2, 2), rng.uniform(0.2, 6, 2)
    q = centre + half * np.column_stack([np.cos(angle), np.sin(angle)])  # convex: on an ellipse
    mean, sd = rng.normal(0, 2, 2), 10 ** rng.uniform(-2, 1, 2)

    def height(x):
        ys = []
        for (x0, y0), (x1, y1) in zip(q, np.roll(q, -1, 0)):
            if min(x0, x1) <= x <= max(x0, x1) and x0 != x1:
                ys.append(y0 + (y1 - y0) * (x - x0) / (x1 - x0))
        lo, hi = min(ys), max(ys)
        return stats.norm.pdf(x, mean[0], sd[0]) * (stats.norm.cdf(hi, mean[1], sd[1]) - stats.norm.cdf(lo, mean[1], sd[1]))

    grid = np.unique(np.concatenate([q[:, 0]] + [np.linspace(a, b, 400)[1:-1] for a, b in
                     zip(np.sort(q[:, 0])[:-1], np.sort(q[:, 0])[1:])]))
    m = sum(integrate.fixed_quad(np.vectorize(height), a, b, n=12)[0] for a, b in zip(grid[:-1], grid[1:]))
    masses.append({"polygon": q.tolist(), "mean": list(mean), "sd": list(sd), "mass": m})

print(json.dumps({
    "made_with": f"scipy {scipy.__version__}, numpy {np.__version__}",
    "t_quantiles": t_quantiles, "f_quantiles": f_quantiles, "t_tests": t_tests,
    "masses": masses,
}, indent=1))
