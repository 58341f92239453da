"""The 3MF files that `slices` writes, opened with the 3MF Consortium's library (PyPI: lib3mf)."""
import pathlib, subprocess, tempfile

from open_with_lib3mf import describe

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = ROOT / "target/debug/hatchwright"

with tempfile.TemporaryDirectory() as folder:
    jobs = ["coupon", "tide_gauge_kit"]
    for job in jobs:
        out = pathlib.Path(folder) / f"{job}.3mf"
        path = ROOT / f"demo-jobs/{job}.ron"
        subprocess.run([PROGRAM, "slice", path, "--out", out], check=True, capture_output=True)
        found = describe(str(out))  # fails on any warning, in strict mode
        assert found["build_items"] == len(found["objects"]) > 0
        for item in found["objects"]:
            assert item["slices"] > 0 and item["polygons"] >= item["slices"] - 1, item
            assert item["triangles"] > 0 and item["name"], item
        print(f"{job}: {found['build_items']} build items, no warning")
print(f"{len(jobs)} passed, 0 failed")
