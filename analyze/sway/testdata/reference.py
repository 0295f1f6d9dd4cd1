"""Prints reference.json: the low-pass of scipy that the tests of this package are held against.

    python3 reference.py > reference.json        (made with scipy 1.10.1, numpy 1.24.2)
"""
import json

import numpy as np
import scipy
from scipy import signal

rng = np.random.default_rng(10)

coefficients = []
for rate in (20.5, 50, 61.3, 100, 122, 200, 980, 1000):
    b, a = signal.butter(2, 10, fs=rate)
    coefficients.append({"rate": rate, "b": list(b), "a": list(a)})

series = []
for rate, n, pad in ((50, 10, 9), (50, 120, 9), (200, 300, 20), (1000, 400, 100)):
    x = np.cumsum(rng.normal(0, 0.2, n)) + rng.normal(0, 0.1, n)
    b, a = signal.butter(2, 10, fs=rate)
    series.append({"rate": rate, "pad": pad, "x": list(x), "y": list(signal.filtfilt(b, a, x, padlen=pad))})

print(json.dumps({"made_with": f"scipy {scipy.__version__}, numpy {np.__version__}",
                  "coefficients": coefficients, "series": series}, indent=1))
