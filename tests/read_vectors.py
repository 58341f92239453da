"""Reads vector files as crates/scan_path/SPEC.md describes them; Python's standard library only.

    python3 read_vectors.py [FILE...]   one line of JSON per file: counts and lengths, or a refusal
                                        (no FILE: a path per line of standard input)
"""
import collections, hashlib, itertools, json, math, struct, sys, zipfile

KINDS = ["contour", "hatch", "centreline"]
REGIONS = ["core", "up_facing", "down_facing"]


def read_points(data, n):
    """n points from 8n bytes: per axis four planes of bytes, together differences of i32."""
    axes, raw = [], bytearray(4 * n)
    for planes in data[: 4 * n], data[4 * n :]:
        for i in range(4):
            raw[i::4] = planes[i * n : (i + 1) * n]
        axes.append(itertools.accumulate(struct.unpack(f"<{n}i", raw)))
    return list(zip(*axes))


def read_layer(data, k):
    """The blocks of layer k: (placement, exposure, kind, region, [path, ...]), in nm."""
    magic, index, block_count, reserved = struct.unpack_from("<4sIII", data)
    assert (magic, index, reserved) == (b"HWVL", k, 0), f"layer {k} has a wrong head"
    at, blocks = 16, []
    for _ in range(block_count):
        placement, exposure, kind, region, layout, reserved, path_count, point_count = (
            struct.unpack_from("<IHBBB3sII", data, at))
        assert reserved == bytes(3) and layout < 2, f"layer {k} has an unknown block"
        at += 20
        sizes = [2] * path_count
        if layout == 1:
            sizes = struct.unpack_from(f"<{path_count}I", data, at)
            at += 4 * path_count
        assert sum(sizes) == point_count and min(sizes, default=2) >= 2
        points = iter(read_points(data[at : at + 8 * point_count], point_count))
        at += 8 * point_count
        paths = [list(itertools.islice(points, size)) for size in sizes]
        blocks.append((placement, exposure, KINDS[kind], REGIONS[region], paths))
    assert at == len(data), f"layer {k} has bytes to spare"
    return blocks


def length(a, b):
    return math.floor(math.sqrt((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) + 0.5)


def read_file(path):
    """Checks every layer and returns a summary."""
    archive = zipfile.ZipFile(path)
    manifest = json.loads(archive.read("manifest.json"))
    assert manifest["format"] == "hatchwright vectors" and manifest["format_version"] in (1, 2)
    assert manifest["requires"] == [], "needs a newer reader"
    assert all(row.get("copy", 1) > 0 for row in manifest["header"]["placements"])
    assert all(row.get("power_factor", 1) > 0 for row in manifest["header"]["exposures"])
    assert manifest["header"].get("beam_radius_mm", 1) > 0
    assert all(min(row["nominal_j_mm2"], row["steady_j_mm2"]) > 0
               for row in manifest["header"].get("melt", []))
    sums = ["layers", "blocks", "paths", "marks", "points", "mark_length_nm", "jump_length_nm"]
    out = collections.Counter(dict.fromkeys(sums + ["x_sum", "y_sum"], 0))
    for k, row in enumerate(manifest["layers"]):
        data = archive.read(row["entry"])
        assert hashlib.sha256(data).hexdigest() == row["sha256"], f"layer {k} was changed"
        blocks = read_layer(data, k)
        paths = [path for block in blocks for path in block[4]]
        marks = [mark for path in paths for mark in zip(path, path[1:])]
        jumps = [(a[-1], b[0]) for a, b in zip(paths, paths[1:])]
        out.update(layers=1, blocks=len(blocks), paths=len(paths), marks=len(marks),
                   points=sum(map(len, paths)), mark_length_nm=sum(itertools.starmap(length, marks)),
                   jump_length_nm=sum(itertools.starmap(length, jumps)),
                   x_sum=sum(x for path in paths for x, y in path),
                   y_sum=sum(y for path in paths for x, y in path))
    digests = "".join(row["sha256"] for row in manifest["layers"])
    return dict(out, sha256=hashlib.sha256(digests.encode()).hexdigest())


if __name__ == "__main__":
    for path in sys.argv[1:] or map(str.rstrip, sys.stdin):
        try:
            said = read_file(path)
        except Exception as problem:
            said = {"refused": f"{type(problem).__name__}: {problem}"}
        print(json.dumps(said), flush=True)
