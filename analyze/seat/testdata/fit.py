"""Fit the maps of maps.json with scipy and write scipy.json.

The model is that of package seat, written anew: the outline is scaled as a
polygon, distances are taken to the polygon at every point, cells are integrated
over 15 x 15 points, and all parameters (shared ones, gains, planes) are fitted
at once by scipy.optimize.least_squares with Huber's loss.

    OMP_NUM_THREADS=1 python3 fit.py        (Debian: python3-scipy)
"""
import json
import numpy as np
from scipy.optimize import least_squares
from scipy.special import erf

SUB = 15
NAMES = ["medial", "over", "turn", "width", "depth", "domeMedial", "domeOver", "frontRadius",
         "backRadius", "pressBed", "holdBed", "pressSpread", "holdSpread", "pressCurve"]
I = {n: i for i, n in enumerate(NAMES)}
LOWEST = np.array([-40, -40, -0.6, -5, -5, 0, 0, 0, 0, -20, -20, 0, 0, 0.0])
MOST = np.array([40, 40, 0.6, 5, 5, 2, 2, 8, 8, 20, 20, 16, 16, 0.02])
STEP = np.array([1e-3, 1e-3, 1e-4, 1e-3, 1e-3, 1e-3, 1e-3, 1e-2, 1e-2, 1e-3, 1e-3, 1e-2, 1e-2, 1e-7])


def ramp(t, sigma):
    """Integral of the normal distribution function."""
    if sigma < 1e-3:
        return np.maximum(0, t)
    z = t / sigma
    return t * 0.5 * (1 + erf(z / np.sqrt(2))) + sigma * np.exp(-z * z / 2) / np.sqrt(2 * np.pi)


class Model:
    def __init__(self, case):
        self.rows, self.cols, self.pitch = case["rows"], case["cols"], case["pitch"]
        self.outline = np.array(case["outline"])
        self.half = (self.outline.max(0) - self.outline.min(0)) / 2
        self.d = self.pitch / SUB
        rim = 12
        self.x = (np.arange(self.cols * SUB + 2 * rim) - (self.cols * SUB + 2 * rim - 1) / 2) * self.d
        self.y = (np.arange(self.rows * SUB + 2 * rim) - (self.rows * SUB + 2 * rim - 1) / 2) * self.d
        self.X, self.Y = np.meshgrid(self.x, self.y)
        self.press = case["kind"] == "press"

    def shares(self, at, cells, sigma):
        e = (np.arange(cells + 1) - cells / 2) * self.pitch
        t = e[None, :] - at[:, None]
        below = (ramp(t + self.d / 2, sigma) - ramp(t - self.d / 2, sigma)) / self.d
        return np.diff(below, axis=1)

    def lay(self, v):
        s, c = np.sin(v[I["turn"]]), np.cos(v[I["turn"]])
        qx = v[I["medial"]] + c * self.X - s * self.Y
        qy = v[I["over"]] + s * self.X + c * self.Y
        grow = 1 + np.array([v[I["width"]], v[I["depth"]]]) / self.half
        p = self.outline * grow
        q = np.stack([qx.ravel(), qy.ravel()], 1)
        best = np.full(len(q), np.inf)
        near = np.zeros_like(q)
        normal = np.zeros_like(q)
        odd = np.zeros(len(q), bool)
        for a, b in zip(p, np.roll(p, -1, axis=0)):
            ab = b - a
            t = np.clip(((q - a) @ ab) / (ab @ ab), 0, 1)
            f = a + t[:, None] * ab
            d2 = ((q - f) ** 2).sum(1)
            nearer = d2 < best
            best[nearer], near[nearer] = d2[nearer], f[nearer]
            normal[nearer] = np.array([ab[1], -ab[0]]) / np.hypot(*ab)
            odd ^= ((a[1] > q[:, 1]) != (b[1] > q[:, 1])) & (q[:, 0] < a[0] + (q[:, 1] - a[1]) / (ab[1] + 1e-300) * ab[0])
        dist = np.sqrt(best) * np.where(odd, 1, -1)
        far = np.abs(dist) > 0.05
        n = np.where(far[:, None], (near - q) / np.where(far, dist, 1)[:, None], normal)
        t = (1 + n[:, 1]) / 2
        t = t * t * (3 - 2 * t)
        r = v[I["backRadius"]] + (v[I["frontRadius"]] - v[I["backRadius"]]) * t
        down = np.clip(r - np.maximum(0, dist), 0, None)
        recess = r - np.sqrt(np.maximum(0, r * r - down * down))
        recess += v[I["domeMedial"]] * q[:, 0] ** 2 / self.half[0] ** 2 + v[I["domeOver"]] * q[:, 1] ** 2 / self.half[1] ** 2
        cover = np.clip(0.5 + dist / self.d, 0, 1)
        shape = self.X.shape
        k, s2 = ("pressBed", "pressSpread") if self.press else ("holdBed", "holdSpread")
        sigma = np.sqrt(max(0, v[I[s2]]))
        return (cover.reshape(shape), np.exp(v[I[k]]) * recess.reshape(shape),
                self.shares(self.x, self.cols, sigma), self.shares(self.y, self.rows, sigma),
                v[I["pressCurve"]] if self.press else 0.0)

    def read(self, laid, plane):
        cover, drop, sx, sy, curve = laid
        f = np.maximum(0, plane[0] + plane[1] * self.X + plane[2] * self.Y - drop)
        if curve > 0:
            left = 1 - curve * f
            top = 0.9 / curve
            f = np.where(left > 0.1, f / np.maximum(left, 0.1), top / 0.1 + (f - top) / 0.01)
        return (sy.T @ (cover * f) @ sx).ravel() / SUB ** 2


def solve(case):
    m = Model(case)
    p = np.array([c["kPa"] for c in case["maps"]])
    s = np.array([c["s"] for c in case["maps"]])
    mean, sd, gain = np.array(case["mean"]), np.array(case["sd"]), case["gain_sd"]
    ns, cells, maps = len(mean), p.shape[1], len(p)
    free = [i for i, n in enumerate(NAMES) if n in case["free"]]

    def unpack(z):
        v = mean.copy()
        v[free] = z[:len(free)]
        g = z[len(free):len(free) + cells]
        return v, g, z[len(free) + cells:].reshape(maps, 3)

    def residuals(z):
        v, g, planes = unpack(z)
        laid = m.lay(v)
        r = [(p[j] - (1 + g) * m.read(laid, planes[j])) / s[j] for j in range(maps)]
        return np.concatenate(r + [(v[free] - mean[free]) / sd[free], g / gain])

    def jacobian(z):
        v, g, planes = unpack(z)
        laid = m.lay(v)
        at = np.array([m.read(laid, q) for q in planes])
        J = np.zeros((maps * cells + len(free) + cells, len(z)))
        for c, i in enumerate(free):
            w = v.copy()
            w[i] += STEP[i]
            moved = m.lay(w)
            for j in range(maps):
                J[j * cells:(j + 1) * cells, c] = -(1 + g) * (m.read(moved, planes[j]) - at[j]) / STEP[i] / s[j]
            J[maps * cells + c, c] = 1 / sd[i]
        for k in range(cells):
            J[np.arange(maps) * cells + k, len(free) + k] = -at[:, k] / s[:, k]
            J[maps * cells + len(free) + k, len(free) + k] = 1 / gain
        for j in range(maps):
            for a, h in enumerate((1e-3, 1e-4, 1e-4)):
                q = planes[j].copy()
                q[a] += h
                J[j * cells:(j + 1) * cells, len(free) + cells + 3 * j + a] = -(1 + g) * (m.read(laid, q) - at[j]) / h / s[j]
        return J

    z = np.concatenate([np.array(case["start"])[free], np.zeros(cells), np.array(case["planes"]).ravel()])
    lo, hi = np.full(len(z), -np.inf), np.full(len(z), np.inf)
    lo[:len(free)], hi[:len(free)] = LOWEST[free], MOST[free]
    z[:len(free)] = np.clip(z[:len(free)], LOWEST[free] + 1e-9, MOST[free] - 1e-9)
    fit = least_squares(residuals, z, jacobian, bounds=(lo, hi), loss="huber", f_scale=3, x_scale="jac", max_nfev=60)
    v, g, planes = unpack(fit.x)
    # Standard deviations from the Jacobian, the planes and gains being free.
    cov = np.linalg.pinv(fit.jac.T @ fit.jac)[:len(free), :len(free)]
    return {"name": case["name"], "shared": dict(zip(NAMES, v)), "sum": 2 * fit.cost, "evaluations": int(fit.nfev),
            "sd": {NAMES[i]: float(np.sqrt(cov[c, c])) for c, i in enumerate(free)}}


if __name__ == "__main__":
    with open("maps.json") as f:
        cases = json.load(f)
    results = [solve(c) for c in cases]
    with open("scipy.json", "w") as f:
        json.dump(results, f, indent=1)
    for r in results:
        print(r["name"], r["sum"], r["evaluations"], {k: round(float(v), 4) for k, v in r["shared"].items()}, r["sd"])
