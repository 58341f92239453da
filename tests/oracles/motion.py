"""Times of the beam against references that take small steps, with scipy (PyPI).

Turns: the acceleration of each axis is one number in each of many steps of time, within its limit, and linear
programs (scipy.optimize.linprog) say how far an axis can get in a time, given its velocities at both ends. The
shortest time in which both axes can cover their ways is searched for. Paths: speeds along a row of marks on a fine
grid of places, forth and back, and the time by summing up. None of the program's closed forms is used; what a corner
allows, v² = a·r on an arc within the tolerance, is the model itself, and is written down here anew.
"""
import math, pathlib, subprocess

import numpy as np
from scipy.optimize import brentq, linprog

ROOT = pathlib.Path(__file__).resolve().parents[2]
WITHIN = 1e-3
STEPS = 60


def ours(head, rows):
    """What the program says: one time for each row, s."""
    text = "\n".join(" ".join(repr(float(number)) for number in row) for row in [head, *rows])
    command = [ROOT / "target/debug/examples/beam_times"]
    done = subprocess.run(command, input=text, capture_output=True, text=True, check=True)
    return np.array([float(line) for line in done.stdout.split()])


def reach(time, start, end, most, rate):
    """Shortest and longest way, mm, of an axis from one velocity to another in a time; None if it cannot."""
    if abs(end - start) > rate * time:
        return None
    step = time / STEPS
    # way: start·T + Σ aₖ·step²·(STEPS − k − ½)
    gains = step**2 * (STEPS - np.arange(STEPS) - 0.5)
    lower = np.tril(np.full((STEPS, STEPS), step))
    bounds = [(-rate, rate)] * STEPS
    limits = dict(A_ub=np.vstack([lower, -lower]), b_ub=np.concatenate([np.full(STEPS, most - start), np.full(STEPS, most + start)]))
    ends = dict(A_eq=np.full((1, STEPS), step), b_eq=[end - start])
    ways = []
    for sign in (1, -1):
        found = linprog(sign * gains, bounds=bounds, **limits, **ends, method="highs")
        if not found.success:
            return None
        ways.append(start * time + gains @ found.x)
    return ways


def missing(time, axes):
    """How far the axis that is worst off misses its way, mm; 0 or less if both can."""
    worst = -math.inf
    for way, start, end, most, rate in axes:
        ways = reach(time, start, end, most, rate)
        if ways is None:
            return 1.0
        worst = max(worst, way - ways[1], ways[0] - way)
    return worst


def turn_time(way, start, end, jump, rates):
    length = math.hypot(*way)
    axes = [
        (way[i], start[i], end[i], max(jump * abs(way[i]) / length, abs(start[i]), abs(end[i])), rates[i])
        for i in range(2)
    ]
    time = max(abs(end[i] - start[i]) / rates[i] for i in range(2)) * (1 + 1e-9) + 1e-6
    before = None
    while missing(time, axes) > 0:
        before, time = time, time * 1.05
    if before is None:
        return time
    for _ in range(14):
        middle = (before + time) / 2
        before, time = (middle, time) if missing(middle, axes) > 0 else (before, middle)
    return time


def path_time(points, speed, rates, tolerance):
    """A row of marks from standstill to standstill that slows down in its corners."""
    points = np.array(points)
    ways = np.diff(points, axis=0)
    lengths = np.hypot(*ways.T)
    directions = ways / lengths[:, None]
    rate = np.min(np.array(rates) / np.maximum(np.abs(directions), 1e-12), axis=1)
    corners, free = [0.0], lengths.copy()
    for i in range(len(lengths) - 1):
        half = math.acos(np.clip(directions[i] @ directions[i + 1], -1, 1)) / 2
        radius = min(tolerance / (1 / math.cos(half) - 1), min(lengths[i], lengths[i + 1]) / 2 / math.tan(half))
        corner = math.sqrt(min(rates) * radius)
        if corner < speed:
            free[i] -= radius * math.tan(half)
            free[i + 1] -= radius * math.tan(half)
        corners.append(min(corner, speed))
    corners.append(0.0)
    cells = 2000
    ends = [speed if c >= speed or i in (0, len(lengths)) else c for i, c in enumerate(corners)]
    squares, steps, gains, marks = [], [], [], [0]
    for i, length in enumerate(lengths):
        peak = (2 * rate[i] * free[i] + ends[i] ** 2 + ends[i + 1] ** 2) / 2
        squares += [min(speed**2, peak)] * cells
        steps += [length / cells] * cells
        gains += [2 * rate[i] * length / cells] * cells
        marks.append(len(steps))
    # speeds at the borders of cells, as squares
    border = np.append(np.minimum(squares, np.roll(squares, 1)), squares[-1])
    for mark, corner in zip(marks, corners):
        border[mark] = min(border[mark], corner**2)
    for k in range(len(steps)):
        border[k + 1] = min(border[k + 1], border[k] + gains[k])
    for k in reversed(range(len(steps))):
        border[k] = min(border[k], border[k + 1] + gains[k])
    speeds = np.sqrt(border)
    return float(np.sum(2 * np.array(steps) / (speeds[:-1] + speeds[1:])))


def main():
    random = np.random.default_rng(65)
    rates, jump, tolerance = (1.0e7, 7.0e6), 8000.0, 0.01
    head = [*rates, tolerance, jump]
    rows, wanted = [], []
    for _ in range(8):
        way, start, end = random.uniform(-4, 4, 2), random.uniform(-4000, 4000, 2), random.uniform(-4000, 4000, 2)
        rows.append([0, *way, *start, *end])
        wanted.append(turn_time(way, start, end, jump, rates))
    for count in (2, 3, 5, 9, 20, 40):
        points = np.round(np.cumsum(random.uniform(-3, 3, (count, 2)), axis=0), 6)
        speed = random.uniform(500, 5000)
        rows.append([1, speed, *points.reshape(-1)])
        wanted.append(path_time(points, speed, rates, tolerance))
    found = ours(head, rows)
    error = np.abs(found / np.array(wanted) - 1)
    assert len(found) == len(wanted) and error.max() < WITHIN, (error, found, wanted)
    # a jump from standstill to standstill, solved for the time at which a triangle of speed has the way as its area
    time = brentq(lambda t: 1e7 * t * t / 4 - 0.2, 1e-6, 1e-2)
    assert abs(ours(head, [[0, 0.2, 0, 0, 0, 0, 0]])[0] / time - 1) < 1e-9
    print(f"motion: {len(found)} turns and paths, worst relative difference from small steps {error.max():.1e}")


main()
