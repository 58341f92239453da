"""Times general-purpose libraries and Hatchwright on the same inputs, in one run, on one core.

Prints a table in Markdown. Each figure is the best of several runs of that stage alone:
  read and weld   binary STL to an indexed mesh           stl_reader (C++)
  sections        1,000 closed sections from a welded mesh, building each library's own solid or
                  tree included                           manifold3d, VTK's contour filter
  inset           every section by 0.2 mm, mitre joins    GEOS through shapely
  hatch           every section at 0.1 mm, 67 degrees     a scanline in numpy (written here)
Inputs are a torus of 1 M triangles and a gyroid sheet of about 1 M (many islands and holes).
"""
import json, math, os, subprocess, sys, time
import numpy as np
import manifold3d, shapely, stl_reader, vtk
from plain_job import MACHINE, RECIPE
from skimage.measure import marching_cubes
from vtk.util import numpy_support

FOLDER, LAYERS, INSET, SPACING, ANGLE = sys.argv[1], 1000, 0.2, 0.1, 67.0
RECORD = np.dtype([("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])


def torus(R=100, r=50, nu=1000, nv=500):
    u, v = np.arange(nu) * 2 * np.pi / nu, (np.arange(nv) + 0.5) * 2 * np.pi / nv
    U, V = np.meshgrid(u, v, indexing="ij")
    ring = R + r * np.cos(V)
    P = np.stack([ring * np.cos(U), ring * np.sin(U), r * np.sin(V)], -1).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(nu), np.arange(nv), indexing="ij")
    i2, j2 = (i + 1) % nu, (j + 1) % nv
    A, B, C, D = (x.ravel() for x in (i * nv + j, i2 * nv + j, i2 * nv + j2, i * nv + j2))
    return P, np.concatenate([np.stack([A, B, C], 1), np.stack([A, C, D], 1)])


def gyroid(n=(88, 88, 146), size=(60, 60, 100), cells=4, t=0.35):
    k = 2 * np.pi * cells / size[0]
    axes = [np.linspace(0, s, m, dtype=np.float32) * k for s, m in zip(size, n)]
    X, Y, Z = np.meshgrid(*axes, indexing="ij", sparse=True)
    g = np.abs(np.sin(X) * np.cos(Y) + np.sin(Y) * np.cos(Z) + np.sin(Z) * np.cos(X)) - t
    v, f, _, _ = marching_cubes(np.pad(g, 1, constant_values=1.0), 0.0)
    return (v - 1) * np.array([s / (m - 1) for s, m in zip(size, n)]), f[:, ::-1]


def write_stl(path, v, f):
    if np.einsum("ij,ij->i", v[f[:, 0]], np.cross(v[f[:, 1]], v[f[:, 2]])).sum() < 0:
        f = f[:, ::-1]
    records = np.zeros(len(f), RECORD)
    records["v"] = v[f].astype(np.float32)
    with open(path, "wb") as file:
        file.write(b"benchmark input".ljust(80))
        np.array([len(f)], "<u4").tofile(file)
        records.tofile(file)


def best(work, runs=6, stop=12.0):
    times, spent = [], 0.0
    for _ in range(runs):
        start = time.perf_counter()
        result = work()
        times.append(time.perf_counter() - start)
        spent += times[-1]
        if spent > stop:
            break
    return min(times), result


def welded(path):
    v, i = stl_reader.read(path)
    return np.asarray(v, np.float32), np.asarray(i).reshape(-1, 3).astype(np.uint32)


def heights(V):
    low, high = float(V[:, 2].min()), float(V[:, 2].max())
    step = (high - low) / LAYERS
    return low + (np.arange(LAYERS) + 0.5) * step + step * 6.18e-5  # off exact vertex heights


def sections_manifold(V, F, z):
    solid = manifold3d.Manifold(manifold3d.Mesh(V, F))
    assert solid.status() == manifold3d.Error.NoError
    return [solid.slice(float(h)).to_polygons() for h in z]


def sections_vtk(V, F, z):
    poly, points, cells = vtk.vtkPolyData(), vtk.vtkPoints(), vtk.vtkCellArray()
    points.SetData(numpy_support.numpy_to_vtk(V.astype(np.float64), deep=1))
    offsets = np.arange(0, 3 * len(F) + 1, 3)
    cells.SetData(numpy_support.numpy_to_vtkIdTypeArray(offsets, deep=1),
                  numpy_support.numpy_to_vtkIdTypeArray(F.astype(np.int64).ravel(), deep=1))
    poly.SetPoints(points), poly.SetPolys(cells)
    scalars = numpy_support.numpy_to_vtk(V[:, 2].astype(np.float64), deep=1)
    scalars.SetName("z"), poly.GetPointData().SetScalars(scalars)
    cut = vtk.vtkContourFilter()
    cut.SetInputData(poly), cut.ComputeScalarsOff(), cut.ComputeNormalsOff()
    cut.UseScalarTreeOn(), cut.SetOutputPointsPrecision(1)
    for i, h in enumerate(z):
        cut.SetValue(i, float(h))
    join = vtk.vtkStripper()
    join.SetInputConnection(cut.GetOutputPort())
    join.SetMaximumLength(10**8), join.JoinContiguousSegmentsOn(), join.Update()
    return join.GetOutput().GetNumberOfLines()


def islands(rings):
    """Polygons with holes for shapely: each hole goes to the smallest outer ring around it."""
    def area(r):
        return 0.5 * float(np.dot(r[:, 0], np.roll(r[:, 1], -1)) - np.dot(r[:, 1], np.roll(r[:, 0], -1)))
    outer = sorted((r for r in rings if area(r) > 0), key=area)
    solid = [shapely.Polygon(r) for r in outer]
    holes = [[] for _ in outer]
    for r in (r for r in rings if area(r) < 0):
        where = next((i for i, s in enumerate(solid) if shapely.contains_xy(s, *r[0])), None)
        if where is not None:
            holes[where].append(r)
    return shapely.MultiPolygon([shapely.Polygon(o, h) for o, h in zip(outer, holes)])


def hatch_numpy(rings, s=SPACING):
    c, n = math.cos(math.radians(ANGLE)), math.sin(math.radians(ANGLE))
    R = np.array([[c, n], [-n, c]])
    p = [r @ R.T for r in rings]
    q = np.concatenate([np.roll(r, -1, 0) for r in p])
    p = np.concatenate(p)
    f, g = p[:, 1] / s - 0.5, q[:, 1] / s - 0.5
    low, high = np.ceil(np.minimum(f, g)).astype(np.int64), np.ceil(np.maximum(f, g)).astype(np.int64)
    count = high - low
    i = np.repeat(np.arange(len(p)), count)
    k = np.repeat(low - np.concatenate([[0], np.cumsum(count)[:-1]]), count) + np.arange(len(i))
    v = (k + 0.5) * s
    u = p[i, 0] + (v - p[i, 1]) / (q[i, 1] - p[i, 1]) * (q[i, 0] - p[i, 0])
    order = np.lexsort((u, k))
    return (np.stack([u[order], v[order]], 1) @ R).reshape(-1, 2, 2)


def ours(binary, path, threads):
    pin = ["taskset", "-c", "0"] if threads == 1 else []
    out = subprocess.run(pin + [binary, path, str(LAYERS), str(threads)], check=True, capture_output=True)
    return json.loads(out.stdout)


JOB = """(version: 2, name: "memory", machine: "machine.ron", recipe: "recipe.ron", parts: [
(name: "torus", mesh: "torus_1400k.stl", placements: [(location_mm: (0, 0, 50))])])"""


def memory(program):
    """Peak memory of `write` from end to end, against 3 times the mesh in memory plus 200 MB."""
    V, F = torus(nu=1200, nv=584)
    write_stl(os.path.join(FOLDER, "torus_1400k.stl"), V, F)
    for name, text in (("machine", MACHINE), ("recipe", RECIPE), ("job", JOB)):
        with open(os.path.join(FOLDER, f"{name}.ron"), "w") as file:
            file.write(text)
    out = os.path.join(FOLDER, "job.hwv")
    start = time.perf_counter()
    # Asked of a small process in between: a child's peak starts at that of the process it forks from.
    ask = "import os,sys; c=os.spawnv(os.P_NOWAIT,sys.argv[1],sys.argv[1:]); w=os.wait4(c,0); print(w[1], w[2].ru_maxrss)"
    command = [sys.executable, "-S", "-c", ask, program, "write", "--unproven", os.path.join(FOLDER, "job.ron"), "--out", out]
    lines = subprocess.run(command, check=True, capture_output=True, text=True).stdout.split()
    assert lines[-2] == "0", lines
    peak = int(lines[-1]) * 1024 / 1e6
    spent, mesh = time.perf_counter() - start, (12 * len(F) + 24 * len(V)) / 1e6
    print(f"\n`write` of {len(F) / 1e6:.2f} M triangles, 1,000 layers, hatch 0.1 mm, end to end: {spent:.1f} s, "
          f"peak memory {peak:.0f} MB; 3 x mesh + 200 MB = {3 * mesh + 200:.0f} MB; "
          f"file {os.path.getsize(out) / 1e6:.0f} MB")


def main(binary):
    print("| input | stage | library, best | ours | factor | wanted |\n| --- | --- | --- | --- | --- | --- |")
    for name, make in (("torus", torus), ("gyroid", gyroid)):
        path = os.path.join(FOLDER, f"{name}.stl")
        if not os.path.exists(path):
            write_stl(path, *make())
        V, F = welded(path)
        z = heights(V)
        mine = ours(binary, path, 1)
        read, _ = best(lambda: welded(path))
        t_manifold, rings = best(lambda: sections_manifold(V, F, z), 3)
        t_vtk, _ = best(lambda: sections_vtk(V, F, z), 3)
        polygons = np.array([islands(layer) for layer in rings], dtype=object)
        inset, _ = best(lambda: shapely.buffer(polygons, -INSET, join_style="mitre", mitre_limit=2.0), 3)
        t_hatch, lines = best(lambda: [hatch_numpy(layer) for layer in rings], 3)
        vertices, vectors = sum(len(r) for layer in rings for r in layer), sum(map(len, lines))

        def row(stage, theirs, own, wanted):
            print(f"| {name} | {stage} | {theirs} | {own[0]} | {own[1]:.2f} | {wanted} |", flush=True)

        row("read and weld", f"stl_reader {len(F) / read / 1e6:.1f} M triangles/s",
            (f"{mine['triangles'] / mine['read_weld_s'] / 1e6:.1f} M triangles/s",
             (mine["triangles"] / mine["read_weld_s"]) / (len(F) / read)), "≥ 2")
        label = "manifold3d" if t_manifold < t_vtk else "VTK"
        row("1,000 sections", f"{label} {min(t_manifold, t_vtk):.2f} s",
            (f"{mine['sections_s']:.2f} s", min(t_manifold, t_vtk) / mine["sections_s"]), "≥ 5")
        row("inset 0.2 mm", f"GEOS {vertices / inset / 1e6:.2f} M vertices/s",
            (f"{mine['vertices'] / mine['inset_s'] / 1e6:.2f} M vertices/s",
             (mine["vertices"] / mine["inset_s"]) / (vertices / inset)), "≥ 1")
        row("hatch 0.1 mm", f"numpy {vectors / t_hatch / 1e6:.1f} M vectors/s",
            (f"{mine['vectors'] / mine['hatch_s'] / 1e6:.1f} M vectors/s",
             (mine["vectors"] / mine["hatch_s"]) / (vectors / t_hatch)), "≥ 5")
        two = ours(binary, path, 2)
        row("all layers, 2 cores", f"ours, 1 core {mine['layers_s']:.2f} s",
            (f"{two['layers_s']:.2f} s", mine["layers_s"] / two["layers_s"]), "≥ 1.7")


main(sys.argv[2])
memory(sys.argv[3])
