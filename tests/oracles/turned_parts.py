"""Writes and verifies single parts, turned by angles that no one chose, with every shipped recipe.

    python3 tests/oracles/turned_parts.py [WORDS IN THE NAME OF MESH OR RECIPE ...]

Nothing is wrong with these files, so whatever `verify` refuses is a fault of the making or a false alarm of the proof.
Asks the program that the tests have built, or the one named by HATCHWRIGHT, a part on each core. Prints what is
refused, with the first place of each kind, and the count; exit code 1 if there is any. Takes some 15 minutes of
processor time.
"""

import collections
import concurrent.futures
import json
import os
import pathlib
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = os.environ.get("HATCHWRIGHT", str(ROOT / "target/debug/hatchwright"))
RECIPES = ["pa12", "pa12_fine", "pa11", "tpu", "pa12_glass"]
MACHINE = ROOT / "assets/machines/bench_co2_30w.ron"
PATIENCE_S = 80
JOB = """(version: 3, name: "turned part", machine: "{machine}", recipe: "{recipe}", parts: [(
    name: "part", mesh: "{mesh}", placements: [(location_mm: (0.3, 0.2, 100), rotation_deg: ({a}, {b}, {c}))],
)])"""


def meshes():
    """The demo's, and the tests' but for those that are no meshes."""
    found = sorted((ROOT / "assets/parts").iterdir())
    of_tests = sorted((ROOT / "tests/meshes").glob("*/*"))
    wanted = [m for m in of_tests if m.suffix.lower() in (".stl", ".obj", ".3mf")]
    return found + [m for m in wanted if m.parent.name != "broken_syntax"]


def judged(folder, number, mesh, recipe):
    """What becomes of one part: "verified", "not written", "too slow", or the stop findings of its proof."""
    job, vectors = folder / f"{number}.ron", folder / f"{number}.hwv"
    angles = {"a": 7 * number % 90, "b": 11 * number % 45, "c": 13 * number % 90}
    path = ROOT / "assets/recipes" / f"{recipe}.ron"
    job.write_text(JOB.format(machine=MACHINE, recipe=path, mesh=mesh, **angles))

    def run(*args):
        one_thread = dict(os.environ, RAYON_NUM_THREADS="1")
        return subprocess.run([PROGRAM, *map(str, args)], capture_output=True, text=True,
                              timeout=PATIENCE_S, env=one_thread, check=False)

    try:
        run("write", job, "-o", vectors, "--unproven")
        if not vectors.exists():
            return "not written"
        said = json.loads(run("verify", vectors, "--job", job, "--json").stdout)
    except subprocess.TimeoutExpired:
        return "too slow"
    finally:
        vectors.unlink(missing_ok=True)
    if said["verified"]:
        return "verified"
    return [finding for finding in said["findings"] if finding["severity"] == "stop"]


def main():
    cases = list(enumerate((mesh, recipe) for mesh in meshes() for recipe in RECIPES))
    words = sys.argv[1:]
    cases = [case for case in cases if all(word in " ".join(map(str, case[1])) for word in words)]
    outcomes = collections.Counter()
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
            results = pool.map(lambda case: judged(folder, case[0], *case[1]), cases)
            for (number, (mesh, recipe)), result in zip(cases, results):
                is_refused = isinstance(result, list)
                outcomes["refused" if is_refused else result] += 1
                if is_refused:
                    kinds = collections.Counter(finding["kind"] for finding in result)
                    print(f"{mesh.relative_to(ROOT)} with {recipe} (case {number}): {dict(kinds)}", flush=True)
                    for kind in kinds:
                        first = next(finding for finding in result if finding["kind"] == kind)
                        print(f"  {first['sentence']} {first.get('place')}", flush=True)
    print(", ".join(f"{count} {outcome}" for outcome, count in outcomes.items()))
    return 1 if outcomes["refused"] else 0


if __name__ == "__main__":
    sys.exit(main())
