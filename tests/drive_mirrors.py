"""Turns a layer of a vector file into what a controller would be fed: one row of mirror positions per clock tick.

    python3 drive_mirrors.py FILE LAYER   x,y,power   counts of both mirrors, and watts; one line a tick

A made-up controller, to show that the file is enough: every number comes from it. It accelerates evenly between
paths and along run-ins, waits until the mirrors have settled, and switches the light by its delays. It is an
example, and must never steer a laser.
"""
import json, math, sys, zipfile
from read_vectors import read_layer


def rest_to_rest(length, speed, acceleration):
    """Way against time from standstill to standstill: (duration, way after t)."""
    ramp = min(speed / acceleration, math.sqrt(length / acceleration))
    top = ramp * acceleration
    duration = length / top + ramp if top else 0.0

    def way(t):
        if t < ramp:
            return acceleration * t * t / 2
        if t > duration - ramp:
            return length - acceleration * max(duration - t, 0) ** 2 / 2
        return acceleration * ramp * ramp / 2 + top * (t - ramp)

    return duration, way


def moves(blocks, header):
    """Straight moves in order: (start, end, duration, way after t, power); mm, s, W."""
    head, jump_speed = header["head"], header["jump_speed_mm_s"]
    slower = min(head["acceleration_mm_s2"])
    at = None
    for _, exposure, _, _, paths in blocks:
        row = header["exposures"][exposure]
        speed = row["speed_mm_s"]
        for path in paths:
            points = [(x / 1e6, y / 1e6) for x, y in path]
            points = points[:1] + [q for p, q in zip(points, points[1:]) if p != q]
            if len(points) < 2:
                continue
            before = beyond(points[1], points[0], row["path_run_in_mm"])
            after = beyond(points[-2], points[-1], row["path_run_out_mm"])
            if at:
                length = math.dist(at, before)
                duration, way = rest_to_rest(length, jump_speed, slower)
                yield at, before, duration, way, 0.0
                yield before, before, head["settle_us"] / 1e6, lambda t: 0.0, 0.0
            run = row["path_run_in_mm"]
            if run > 0:  # evenly faster: twice the time that it takes at full speed
                yield before, points[0], 2 * run / speed, lambda t, r=run, v=speed: v * v * t * t / (4 * r), 0.0
            for p, q in zip(points, points[1:]):
                yield p, q, math.dist(p, q) / speed, lambda t, v=speed: v * t, row["power_w"]
            run = row["path_run_out_mm"]
            if run > 0:
                yield points[-1], after, 2 * run / speed, lambda t, r=run, v=speed: v * t - v * v * t * t / (4 * r), 0.0
            at = after


def beyond(p, q, way):
    """The point that lies `way` mm beyond q, coming from p."""
    length = math.dist(p, q)
    return tuple(b + (b - a) * way / length for a, b in zip(p, q))


def counts(x, y, head):
    """Positions of both mirrors for a point at the bed."""
    reach = [size / 2 for size in head["field_size_mm"]]
    most = 2 ** head["command_bits"] - 1
    if head["has_flat_field_lens"]:
        parts = x / reach[0], y / reach[1]
    else:
        d, e = head["distance_mm"], head["mirror_separation_mm"]
        tan_x = lambda x, y: math.atan(x / (math.hypot(d, y) + e))
        parts = tan_x(x, y) / tan_x(reach[0], 0), math.atan(y / d) / math.atan(reach[1] / d)
    return [round((part + 1) / 2 * most) for part in parts]


def samples(blocks, header):
    """One row for every tick: counts of X, counts of Y, power. The light follows the spot, which lags."""
    head, time, ticks = header["head"], 0.0, 0
    rate = head["command_rate_hz"]
    rows, switches = [], []
    for start, end, duration, way, power in moves(blocks, header):
        length = math.dist(start, end)
        if not switches or switches[-1][1] != power:
            switches.append((time, power))
        while ticks / rate < time + duration:
            part = way(ticks / rate - time) / length if length else 0.0
            rows.append(counts(*(a + part * (b - a) for a, b in zip(start, end)), head))
            ticks += 1
        time += duration
    power, light = 0.0, []
    for tick in range(ticks):
        while switches:
            delay = head["laser_on_delay_us" if switches[0][1] else "laser_off_delay_us"]
            if tick / rate < switches[0][0] + (head["lag_us"] - delay) / 1e6:
                break
            power = switches.pop(0)[1]
        light.append(power)
    return [(x, y, power) for (x, y), power in zip(rows, light)]


if __name__ == "__main__":
    path, layer = sys.argv[1], int(sys.argv[2])
    archive = zipfile.ZipFile(path)
    header = json.loads(archive.read("manifest.json"))["header"]
    if "head" not in header:
        sys.exit(f"{path} does not say how the head moves: give the machine a `head`, and write it again")
    data = archive.read(f"layers/{layer:06}.bin")
    for x, y, power in samples(read_layer(data, layer), header):
        print(f"{x},{y},{power:g}")
