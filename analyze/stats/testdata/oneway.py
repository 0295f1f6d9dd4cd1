"""Prints oneway.json: numbers of scipy that the analysis of variance is held against.

    python3 oneway.py > oneway.json        (made with scipy 1.10.1, numpy 1.24.2)

f is that of scipy.stats.f_oneway. The variances are restricted maximum
likelihood estimates by a general minimizer: with groups of one size, and where
they come out above 0, they equal those of the analysis of variance.
"""
import json

import numpy as np
import scipy
from scipy import optimize, stats

rng = np.random.default_rng(1992)
cases = []
for sizes, between in (((4,) * 6, 2.0), ((3,) * 12, 1.0), ((2, 5, 3, 7), 1.5), ((6, 6), 3.0), ((3,) * 5, 0.0)):
    groups = [rng.normal(0, between) + rng.normal(10, 1, n) for n in sizes]
    case = {"groups": [list(g) for g in groups], "f": stats.f_oneway(*groups).statistic}
    if len(set(sizes)) == 1:
        y = np.concatenate(groups)
        z = np.kron(np.eye(len(sizes)), np.ones((sizes[0], 1)))

        def reml(v):
            s = np.exp(v[0]) * z @ z.T + np.exp(v[1]) * np.eye(len(y))
            i, one = np.linalg.inv(s), np.ones(len(y))
            w = one @ i @ one
            r = y - one @ i @ y / w
            return (np.linalg.slogdet(s)[1] + np.log(w) + r @ i @ r) / 2

        best = optimize.minimize(reml, [0, 0], method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-13, "maxiter": 10000})
        if np.exp(best.x[0]) > 1e-4:
            case |= {"between": float(np.exp(best.x[0])), "within": float(np.exp(best.x[1]))}
    cases.append(case)
print(json.dumps({"scipy": scipy.__version__, "numpy": np.__version__, "cases": cases}, indent=1))
