"""Sections and insets of real meshes against manifold3d and shapely (PyPI), from outside.

For each mesh a plain job is written (no shrinkage, one contour, no thin walls), run through
`write` and `slices`, and read back: sections from the 3MF's slice stack, insets from the vector
file's contours. manifold3d cuts the same mesh at the same heights, shapely insets that section.
"""
import math, pathlib, struct, subprocess, sys, tempfile, zipfile
import xml.etree.ElementTree as ET

import manifold3d
import numpy as np
import shapely

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))
import read_vectors  # our reader in plain Python

PROGRAM = ROOT / "target/debug/hatchwright"
MESHES = [  # file, unit, mm per unit, layer thickness mm, beam offset mm
    ("exact_truth/WaveShare_Mounting_Plate_SO101_tol0.1.stl", "Millimetre", 1.0, 0.1, 0.2),
    ("exact_truth/featuretype_tol0.1.stl", "Millimetre", 1.0, 0.5, 0.2),
    ("exact_truth/box_sides_tol0.1.stl", "Millimetre", 1.0, 0.47, 0.15),
    ("exact_truth/base_interface_AP214_tol0.1.stl", "Millimetre", 1.0, 0.03, 0.2),
    ("oracles/finger_lower_link.stl", "Metre", 1000.0, 0.3, 0.15),
    ("oracles/plate_holes.STL", "Millimetre", 1.0, 0.3, 0.25),
]
RECIPE = """(version: 2, name: "oracle", layer_thickness_mm: {t}, shrinkage_percent: (0, 0, 0),
z_growth_mm: 0, beam_offset_mm: {o}, joins: Round(chord_tolerance_um: 0.5), thin_walls: Skip,
exposures: [(name: "rim", power_w: 20, speed_mm_s: 2000)],
core: (sequence: ContoursFirst, contours: Some((count: 1, spacing_mm: 0.2, order: OutsideIn,
  start: Nearest, exposures: ["rim"])), hatch: None))"""
MACHINE = """(version: 2, name: "oracle", build_space_mm: (1000, 1000, 1000),
spreading_direction_deg: 0, recoat_time_s: 10, laser: (wavelength_nm: 10600, max_power_w: 30),
scan_head: (max_mark_speed_mm_s: 10000, jump_speed_mm_s: 10000))"""
JOB = """(version: 2, name: "oracle", machine: "machine.ron", recipe: "recipe.ron", parts: [
(name: "part", mesh: "{mesh}", unit: Some({unit}), placements: [(location_mm: (0, 0, {z}))])])"""
SLICE = "{http://schemas.microsoft.com/3dmanufacturing/slice/2015/07}"


def read_stl(path):
    """Vertices and triangles of an STL, corners welded where their bits agree."""
    data = path.read_bytes()
    count = struct.unpack_from("<I", data, 80)[0]
    if len(data) == 84 + 50 * count:
        record = np.dtype([("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])
        soup = np.frombuffer(data, record, count, 84)["v"].reshape(-1, 3)
    else:
        words = [line.split() for line in data.decode("ascii", "replace").splitlines()]
        soup = np.array([w[1:4] for w in words if w[:1] == ["vertex"]], np.float32)
    corners, index = np.unique(soup + np.float32(0), axis=0, return_inverse=True)
    return corners.astype(np.float64), index.reshape(-1, 3)


def area(ring):
    x, y = ring[:, 0], ring[:, 1]
    return 0.5 * float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))


def polygons(rings):
    """Even-odd set of rings as one shapely geometry."""
    whole = shapely.Polygon()
    for ring in sorted((shapely.Polygon(r).buffer(0) for r in rings if len(r) > 2), key=lambda p: -p.area):
        whole = whole.symmetric_difference(ring)
    return whole


def slice_stack(path):
    """z top of each slice, and its rings in mm."""
    with zipfile.ZipFile(path) as archive:
        model = next(n for n in archive.namelist() if n.endswith(".model"))
        for _, element in ET.iterparse(archive.open(model)):
            if element.tag != SLICE + "slice":
                continue
            points = np.array([(float(v.get("x")), float(v.get("y"))) for v in element.iter(SLICE + "vertex")])
            rings = []
            for polygon in element.iter(SLICE + "polygon"):
                rings.append(points[[int(s.get("v2")) for s in polygon.iter(SLICE + "segment")]])
            yield float(element.get("ztop")), rings
            element.clear()


def compare(folder, name, unit, scale, thickness, offset):
    V, F = read_stl(ROOT / "tests/meshes" / name)
    V = V * scale
    V -= (V.min(0) + V.max(0)) / 2 * np.array([1, 1, 0]) + np.array([0, 0, V[:, 2].min()])
    height = float(V[:, 2].max())
    solid = manifold3d.Manifold(manifold3d.Mesh64(np.ascontiguousarray(V), F.astype(np.uint64)))
    assert solid.status() == manifold3d.Error.NoError, (name, solid.status())
    (folder / "machine.ron").write_text(MACHINE)
    (folder / "recipe.ron").write_text(RECIPE.format(t=thickness, o=offset))
    mesh = (ROOT / "tests/meshes" / name).as_posix()
    (folder / "job.ron").write_text(JOB.format(mesh=mesh, unit=unit, z=height / 2))
    # the part stands on the platform, nearer than parts should
    for verb, file in ((["write", "--unproven"], "job.hwv"), (["slice"], "job.3mf")):
        subprocess.run([PROGRAM, *verb, folder / "job.ron", "--out", folder / file], check=True, capture_output=True)
    archive = zipfile.ZipFile(folder / "job.hwv")
    worst_section = worst_inset = 0.0
    layers = 0
    for k, (_, rings) in enumerate(slice_stack(folder / "job.3mf")):
        z = (k + 0.5) * thickness
        blocks = read_vectors.read_layer(archive.read(f"layers/{k:06}.bin"), k)
        theirs = [np.asarray(r) for r in solid.slice(z).to_polygons()]
        border = sum(float(np.hypot(*(r - np.roll(r, 1, 0)).T).sum()) for r in theirs)
        # Both sides round: ours to 1 nm, the written 3MF and the slice at most some more.
        slack = border * 5e-6 + 1e-4
        difference = abs(sum(map(area, rings)) - sum(map(area, theirs)))
        assert difference < slack, f"{name} layer {k}: sections differ by {difference} mm2"
        worst_section = max(worst_section, difference)
        inset = shapely.buffer(polygons(theirs), -offset, quad_segs=64, join_style="round")
        ours = [np.array(path[:-1]) / 1e6 for block in blocks for path in block[4]]
        difference = abs(sum(map(area, ours)) - inset.area)
        # Chords stay within 0.5 um of their arcs here, within offset/6600 of them there.
        slack = (border + 2 * math.pi * offset) * 1e-3 + 1e-3
        assert difference < slack, f"{name} layer {k}: insets differ by {difference} mm2"
        worst_inset = max(worst_inset, difference)
        layers += 1
    assert layers >= 5 and layers == math.floor(height / thickness + 0.5), (name, layers, height)
    print(f"{name}: {layers} layers, sections within {worst_section:.1e} mm2, insets within {worst_inset:.1e} mm2")


with tempfile.TemporaryDirectory() as folder:
    for row in MESHES:
        compare(pathlib.Path(folder), *row)
print(f"{len(MESHES)} passed, 0 failed")
