"""Doses of strokes against scipy (PyPI): the moving Gaussian integrated over time, point by point.

A stroke is a beam that moves from one end to the other; the dose at a place is its intensity there,
integrated by scipy's adaptive quadrature. Nothing of the closed form with error functions is used. A
second check integrates the doses of the example over the plane: all of the energy must be there.
"""
import math, pathlib, subprocess

import numpy as np
from scipy.integrate import quad

ROOT = pathlib.Path(__file__).resolve().parents[2]
RELATIVE = 1e-9


def ours(radius, strokes, places):
    """What the program says: one dose for each place, J/mm²."""
    rows = [[radius], [len(strokes)], *strokes, [len(places)], *places]
    text = "\n".join(" ".join(repr(float(number)) for number in row) for row in rows)
    command = [ROOT / "target/debug/examples/dose_at"]
    done = subprocess.run(command, input=text, capture_output=True, text=True, check=True)
    return np.array([float(line) for line in done.stdout.split()])


def by_time(radius, stroke, place):
    """Energy per area of one stroke at a speed of 1 mm/s: power is then its energy per length."""
    x0, y0, x1, y1, power = stroke
    length = math.hypot(x1 - x0, y1 - y0)
    if length == 0.0:
        return 0.0

    def intensity(time):
        share = time / length
        x, y = x0 + share * (x1 - x0), y0 + share * (y1 - y0)
        r2 = (place[0] - x) ** 2 + (place[1] - y) ** 2
        return 2 * power / (math.pi * radius**2) * math.exp(-2 * r2 / radius**2)

    # where the beam passes the place, the integrand has a narrow peak that must not be overlooked
    passing = ((place[0] - x0) * (x1 - x0) + (place[1] - y0) * (y1 - y0)) / length
    breaks = {min(max(passing + k * radius, 0.0), length) for k in (-5, -2, -1, 0, 1, 2, 5)}
    ends = sorted({0.0, length} | breaks)
    return sum(quad(intensity, a, b, epsabs=0, epsrel=1e-11, limit=200)[0] for a, b in zip(ends, ends[1:]))


def main():
    random = np.random.default_rng(20)
    worst = 0.0
    looked_at = 0
    for radius in (0.05, 0.25, 0.4):
        strokes = np.column_stack([random.uniform(0, 4, (40, 4)), random.uniform(0.001, 0.02, 40)])
        strokes[0, 3] = strokes[0, 1]  # along X
        strokes[1, 2] = strokes[1, 0]  # along Y
        strokes[2, 2:4] = strokes[2, 0:2] + 1e-3  # short
        strokes[3, 2:4] = strokes[3, 0:2]  # no length
        places = random.uniform(-0.5, 4.5, (150, 2))
        found = ours(radius, strokes, places)
        expected = np.array([sum(by_time(radius, s, p) for s in strokes) for p in places])
        # where the dose is less than a millionth of a line's peak, strokes that are left out may count
        peak = math.sqrt(2 / math.pi) * strokes[:, 4].mean() / radius
        counts = expected > 1e-6 * peak
        error = np.abs(found - expected)[counts] / expected[counts]
        assert error.max() < RELATIVE, (radius, error.max())
        assert np.all(np.abs(found - expected)[~counts] < 1e-12 * peak), radius
        worst, looked_at = max(worst, error.max()), looked_at + int(counts.sum())

    # All energy over the plane, by the midpoint rule, which is exact for anything so smooth.
    radius, pitch = 0.4, 0.08
    strokes = np.column_stack([random.uniform(0, 2, (8, 4)), random.uniform(0.001, 0.02, 8)])
    axis = np.arange(-2.0, 4.0, pitch)
    places = np.stack(np.meshgrid(axis, axis), -1).reshape(-1, 2)
    energy = float((np.hypot(*(strokes[:, 2:4] - strokes[:, 0:2]).T) * strokes[:, 4]).sum())
    error = abs(ours(radius, strokes, places).sum() * pitch**2 / energy - 1)
    assert error < 1e-9, error
    assert looked_at > 200, looked_at
    print(f"dose: {looked_at} places, worst relative difference from scipy {worst:.1e}; energy {error:.1e}")


main()
