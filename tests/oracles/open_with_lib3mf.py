"""Opens 3MF files with the 3MF Consortium's library (PyPI: lib3mf) and prints what it finds.

    python3 open_with_lib3mf.py FILE...     one line of JSON per file; fails on any warning
"""
import json, sys
import lib3mf


def describe(path):
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(path)
    warnings = [reader.GetWarning(i) for i in range(reader.GetWarningCount())]
    assert not warnings, warnings
    objects, meshes = [], model.GetMeshObjects()
    while meshes.MoveNext():
        mesh = meshes.GetCurrentMeshObject()
        assert mesh.IsValid() and mesh.HasSlices(False)
        stack = mesh.GetSliceStack()
        slices = [stack.GetSlice(i) for i in range(stack.GetSliceCount())]
        objects.append({
            "name": mesh.GetName(),
            "part_number": mesh.GetPartNumber(),
            "vertices": mesh.GetVertexCount(),
            "triangles": mesh.GetTriangleCount(),
            "z_bottom": stack.GetBottomZ(),
            "z_top": slices[-1].GetZTop() if slices else None,
            "slices": len(slices),
            "polygons": sum(s.GetPolygonCount() for s in slices),
            "slice_vertices": sum(s.GetVertexCount() for s in slices),
        })
    items, count = model.GetBuildItems(), 0
    while items.MoveNext():
        count += 1
    return {"objects": objects, "build_items": count}


if __name__ == "__main__":
    for path in sys.argv[1:]:
        print(json.dumps(describe(path)))
