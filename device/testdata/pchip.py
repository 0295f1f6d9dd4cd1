"""Prints pchip.json: monotone cubics of scipy that the curve by points is held against.

    python3 pchip.py > pchip.json        (made with scipy 1.10.1, numpy 1.24.2)

scipy's PchipInterpolator takes the same derivatives as Fritsch and Butland: the
weighted harmonic mean of the slopes on either side within, and the three-point
formula that keeps the shape at the ends. So values agree everywhere up to the
last knot; beyond it this project goes on straight and scipy does not.
"""
import json

import numpy as np
import scipy
from scipy.interpolate import PchipInterpolator

rng = np.random.default_rng(42)
curves = []
for n in (2, 3, 5, 9, 20):
    counts = np.concatenate([[0], np.cumsum(rng.uniform(5, 400, n - 1)).round(1)])
    kpa = np.concatenate([[0], np.cumsum(rng.uniform(0.5, 300, n - 1)).round(2)])
    x = np.unique(rng.integers(0, int(counts[-1]) + 1, 40))
    f = PchipInterpolator(counts, kpa)
    curves.append({"counts": list(counts), "kpa": list(kpa), "x": x.tolist(), "y": f(x).tolist()})

# One whose slope at either end is held at 0, for it would else turn.
counts, kpa = [0, 100, 200, 300, 400], [0, 1, 500, 999, 1000]
x = list(range(0, 401, 13))
curves.append({"counts": counts, "kpa": kpa, "x": x, "y": PchipInterpolator(counts, kpa)(x).tolist()})

made = f"scipy {scipy.__version__}, numpy {np.__version__}"
print(json.dumps({"made_with": made, "curves": curves}))
