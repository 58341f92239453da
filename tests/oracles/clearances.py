"""Distances of `clearance` against trimesh (PyPI: trimesh, its collision manager on python-fcl) on
pairs of turned and moved meshes: at random, touching, one in the hollow of the other, interlocked,
one within the material of the other.
"""
import json, pathlib, subprocess, tempfile

import numpy as np
import trimesh
from trimesh.collision import CollisionManager
from trimesh.transformations import euler_matrix

from plain_job import MACHINE, RECIPE

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = ROOT / "target/debug/hatchwright"
TOLERANCE_MM = 1e-6
PARTS = ["snap_clip.stl", "sensor_bracket.obj", "mast_clamp.stl"]


def placed(mesh, turns, location):
    """As a job places it: turned A about X, B about Y, C about Z, its box's centre at the location."""
    out = mesh.copy()
    out.apply_transform(euler_matrix(*np.radians(turns), "sxyz"))
    out.apply_translation(np.asarray(location) - out.bounds.mean(axis=0))
    return out


def theirs(a, b):
    """Smallest distance, and whether they share space, by trimesh alone."""
    manager = CollisionManager()
    manager.add_object("a", a)
    shares = manager.in_collision_single(b)
    shares = shares or a.contains(b.vertices[:1])[0] or b.contains(a.vertices[:1])[0]
    return (0.0 if shares else manager.min_distance_single(b)), bool(shares)


def ours(folder, pair):
    parts = []
    for name, (mesh, turns, location) in zip("ab", pair):
        mesh.export(folder / f"{name}.obj", digits=17)
        place = ", ".join(repr(float(x)) for x in location), ", ".join(repr(float(x)) for x in turns)
        parts.append(f'(name: "{name}", mesh: "{name}.obj", placements: [(location_mm: ({place[0]}), rotation_deg: ({place[1]}))])')
    job = f'(version: 2, name: "pair", machine: "machine.ron", recipe: "recipe.ron", parts: [{", ".join(parts)}])'
    (folder / "job.ron").write_text(job)
    command = [PROGRAM, "prove", folder / "job.ron", "--clearance", "100", "--wall", "0", "--json"]
    out = subprocess.run(command, capture_output=True, text=True)
    assert out.returncode in (0, 1), out.stderr
    found = json.loads(out.stdout)["pairs"]
    assert len(found) == 1, found
    return found[0]["distance_mm"], found[0]["overlap"]


def pairs():
    random = np.random.default_rng(20)
    torus = trimesh.creation.torus(major_radius=20, minor_radius=4)
    sphere = trimesh.creation.icosphere(subdivisions=3, radius=6)
    box = trimesh.creation.box((30, 20, 10))
    hollow = trimesh.util.concatenate([trimesh.creation.icosphere(3, 20), trimesh.creation.icosphere(3, 16)])
    hollow.faces[len(hollow.faces) // 2:] = hollow.faces[len(hollow.faces) // 2:, ::-1]
    kit = [trimesh.load(ROOT / "assets/parts" / name, force="mesh") for name in PARTS]
    pool = [torus, sphere, box, *kit]
    none = (0, 0, 0)
    for _ in range(40):
        a, b = random.choice(len(pool), 2)
        where = random.uniform(-25, 25, 3) + (0, 0, 150)
        yield "random", ((pool[a], random.uniform(-180, 180, 3), (0, 0, 150)), (pool[b], random.uniform(-180, 180, 3), where))
    for apart in (0.25, 1.0, 3.0):
        yield "touching but for a gap", ((box, none, (0, 0, 100)), (box, none, (30 + apart, 5, 100)))
        yield "in the hollow", ((hollow, none, (0, 0, 100)), (sphere, (10, 20, 30), (10 - apart, 0, 100)))
    yield "touching", ((box, none, (0, 0, 100)), (box, none, (30, 5, 100)))
    for shift in (0, 3, 7):
        yield "interlocked", ((torus, none, (0, 0, 100)), (torus, (90, 0, 0), (20 + shift, 0, 100)))
    yield "within the material", ((box, none, (0, 0, 100)), (trimesh.creation.icosphere(2, 3), none, (4, 3, 100)))


def main():
    worst, count, sharing = 0.0, 0, 0
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        (folder / "machine.ron").write_text(MACHINE)
        (folder / "recipe.ron").write_text(RECIPE)
        for kind, pair in pairs():
            wanted, shares = theirs(*(placed(*side) for side in pair))
            found, overlap = ours(folder, pair)
            difference = abs(found - wanted)
            assert difference <= TOLERANCE_MM, (kind, found, wanted)
            if kind != "touching":  # where the surfaces coincide, either answer is right
                assert overlap == shares, (kind, found, wanted, overlap, shares)
            worst, count, sharing = max(worst, difference), count + 1, sharing + shares
    print(f"{count} pairs, {sharing} of them overlap; distances differ by {worst:.1e} mm at most")
    print(f"{count} passed, 0 failed")


main()
