"""Prints power.json: numbers of scipy that the power of a t-test is held against.

    python3 power.py > power.json        (made with scipy 1.10.1, numpy 1.24.2)

power is that of a two-sided test at 5 % of a difference that lies delta of its
own standard errors from 0, from scipy's non-central t distribution; needed is
the delta that has 80 %, by a root finder over it. powers_2n is the usual case
of two samples of n each whose difference is so many standard deviations.
"""
import json

import numpy as np
import scipy
from scipy import optimize, stats


def power(delta, dof):
    t = stats.t.ppf(0.975, dof)
    return stats.nct.sf(t, dof, delta) + stats.nct.cdf(-t, dof, delta)


dofs = [1, 2, 3.7, 8, 15.5, 30, 120, 2000]
cases = [{"delta": d, "dof": v, "power": float(power(d, v))} for v in dofs for d in (0.3, 1.0, 2.0, 3.0, 5.0)]
needed = [{"dof": v, "delta": float(optimize.brentq(lambda d: power(d, v) - 0.8, 0.5, 40, xtol=1e-12))} for v in dofs]
two = [
    {"n": n, "effect": e, "power": float(power(e * np.sqrt(n / 2), 2 * n - 2))}
    for n, e in ((5, 2.0), (10, 1.0), (20, 1.0), (64, 0.5))
]
print(json.dumps({"scipy": scipy.__version__, "numpy": np.__version__, "cases": cases, "needed": needed, "two_samples": two}, indent=1))
