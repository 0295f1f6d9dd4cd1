"""Prints reference.json: numbers of scipy that the tests of this package are held against.

    python3 reference.py > reference.json        (made with scipy 1.10.1, numpy 1.24.2)

The readings are drawn, not measured: what is compared is the arithmetic.
"""
import json

import numpy as np
import scipy
from scipy import interpolate, optimize

rng = np.random.default_rng(46)

# Monotone cubics: knots from 0, 0, and values between them.
cubics = []
for n in (2, 3, 5, 9):
    x = np.concatenate([[0], np.cumsum(rng.uniform(20, 400, n))])
    y = np.concatenate([[0], np.cumsum(rng.uniform(10, 300, n))])
    at = np.sort(rng.uniform(0, x[-1], 25))
    pchip = interpolate.PchipInterpolator(x, y) if n > 1 else np.poly1d([y[1] / x[1], 0])
    cubics.append({"x": list(x), "y": list(y), "at": list(at), "value": list(pchip(at))})


def power(x, p):
    start = np.polyfit(np.log(x), np.log(p), 1)
    (a, b), _ = optimize.curve_fit(lambda x, a, b: a * x**b, x, p, p0=(np.exp(start[1]), start[0]),
                                   xtol=1e-15, ftol=1e-15, gtol=1e-15, maxfev=10000)
    return a, b


def linear(x, p):
    return np.linalg.lstsq(x[:, None], p, rcond=None)[0][0]


def predictor(kind, x, p):
    if kind == "linear":
        k = linear(x, p)
        return lambda v: k * v
    if kind == "power":
        a, b = power(x, p)
        return lambda v: a * v**b
    return interpolate.PchipInterpolator(np.append(0, x), np.append(0, p))


# Curves: what each kind fits, and what it misses a load by that it has not seen.
curves = []
for n, b, bend in ((3, 1, 0), (6, 1, 0), (6, 1.4, 0), (8, 0.7, 0), (8, 1, 0.35), (12, 1.2, 0.2)):
    p = np.linspace(60, 1500, n)
    x = (p / 1500) ** (1 / b) * 2500
    x *= 1 + bend * np.sin(p / 1500 * 5) * (p / 1500)
    x = np.sort(x * (1 + rng.normal(0, 0.004, n)))
    a, e = power(x, p)
    case = {"x": list(x), "p": list(p), "kpa_per_count": linear(x, p), "a": a, "b": e, "missed": {}}
    for kind in ("linear", "power", "points"):
        miss = [predictor(kind, np.delete(x, i), np.delete(p, i))(x[i]) - p[i] for i in range(n - 1)]
        case["missed"][kind] = float(np.sqrt(np.mean(np.square(miss))))
    curves.append(case)

# Gains: the same model by a general minimizer of the Poisson deviance.
gains = []
for rows, cells, holes in ((4, 6, 0), (8, 10, 0.4), (14, 12, 0.6)):
    g, level = rng.uniform(0.8, 1.2, cells), rng.uniform(200, 2000, rows)
    y = np.outer(level, g) * (1 + rng.normal(0, 0.02, (rows, cells)))
    hole = rng.uniform(size=y.shape) < holes
    hole[0] = False  # one row reaches every cell, so that all can be compared

    def model(v):
        return np.exp(v[:rows, None] + np.append(0, v[rows:])[None, :])

    def deviance(v):
        m = model(v)
        return np.sum(np.where(hole, 0, m - y * np.log(m))) / 1000

    def gradient(v):
        d = np.where(hole, 0, model(v) - y) / 1000
        return np.concatenate([d.sum(1), d.sum(0)[1:]])

    start = np.concatenate([np.full(rows, np.log(1000)), np.zeros(cells - 1)])
    best = optimize.minimize(deviance, start, jac=gradient, method="BFGS", options={"gtol": 1e-10, "maxiter": 10000})
    m = model(best.x)
    gain = np.exp(np.append(0, best.x[rows:]))
    dof = int((~hole).sum()) - rows - cells + 1
    dispersion = float(np.sum(np.where(hole, 0, (y - m) ** 2 / m)) / dof)
    gains.append({"rows": [[None if h else v for v, h in zip(r, hr)] for r, hr in zip(y, hole)],
                  "gain": list(gain / gain.mean()), "dof": dof,
                  "residual_sd": float(np.sqrt(dispersion / y[~hole].mean()))})

print(json.dumps({"scipy": scipy.__version__, "numpy": np.__version__,
                  "cubics": cubics, "curves": curves, "gains": gains}, indent=1))
