"""Writes meshes as STL, OBJ and 3MF with bytes that depend on the shape alone.

A mesh here is a pair of arrays: n x 3 corner positions in mm and m x 3 indices, counter-clockwise
seen from outside. Positions are rounded to f32 first (all that STL can hold), so every format
holds the same corners.
"""

import zipfile

import numpy as np


def canonical(solid):
    """Mesh of a manifold3d solid, in an order that depends on the shape alone.

    Merges corners that f32 cannot tell apart and refuses triangles that this flattens.
    """
    mesh = solid.to_mesh64()
    corners = np.asarray(mesh.vert_properties)[:, :3].astype(np.float32) + np.float32(0)  # no -0
    faces = corners[np.asarray(mesh.tri_verts)]
    # Each triangle starts at its smallest corner; then triangles are sorted.
    rolled = []
    for face in faces.tolist():
        first = face.index(min(face))
        rolled.append(face[first:] + face[:first])
    rolled = np.array(sorted(rolled), dtype=np.float32)
    vertices, index = np.unique(rolled.reshape(-1, 3), axis=0, return_inverse=True)
    triangles = index.reshape(-1, 3)
    check(vertices, triangles)
    return vertices, triangles


def check(vertices, triangles):
    """Every edge has one triangle on each side; none is flat; the inside is inside."""
    edges = np.concatenate([triangles[:, [i, (i + 1) % 3]] for i in range(3)])
    forth = {tuple(edge) for edge in edges.tolist()}
    assert len(forth) == len(edges), "an edge is used twice in the same direction"
    assert all((b, a) in forth for a, b in forth), "an edge has a triangle on one side only"
    a, b, c = (vertices[triangles[:, i]].astype(float) for i in range(3))
    normals = np.cross(b - a, c - a)
    assert np.linalg.norm(normals, axis=1).min() > 1e-7, "a triangle has no area"
    assert np.einsum("ij,ij->i", a, normals).sum() > 0, "the mesh is inside out"


def write_stl(path, vertices, triangles):
    """Binary STL, mm."""
    a, b, c = (vertices[triangles[:, i]].astype(float) for i in range(3))
    normals = np.cross(b - a, c - a)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    record = np.zeros(len(triangles), dtype=[("xyz", "<f4", (4, 3)), ("attribute", "<u2")])
    record["xyz"] = np.stack([normals, a, b, c], axis=1)
    with open(path, "wb") as file:
        file.write(b"tide-gauge kit, mm".ljust(80))
        file.write(np.uint32(len(triangles)).astype("<u4").tobytes())
        file.write(record.tobytes())


def write_obj(path, name, vertices, triangles):
    """OBJ with one object, mm."""
    lines = ["# tide-gauge kit, mm", f"o {name}"]
    lines += ["v " + " ".join(number(x) for x in vertex) for vertex in vertices]
    lines += ["f " + " ".join(str(i + 1) for i in triangle) for triangle in triangles]
    with open(path, "w", newline="\n") as file:
        file.write("\n".join(lines) + "\n")


def write_3mf(path, unit, mm_per_unit, objects, items):
    """3MF core.

    objects: list of (name, mesh) or (name, [(number of an earlier object from 1, 12 numbers)]);
    items: list of (number of an object, 12 numbers), what the build holds. Translations are mm.
    """

    def transform(numbers):
        scaled = [x / mm_per_unit if i >= 9 else x for i, x in enumerate(numbers)]
        return " ".join(number(x) for x in scaled)

    xml = ['<?xml version="1.0" encoding="UTF-8"?>']
    core = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
    xml.append(f'<model unit="{unit}" xml:lang="en-GB" xmlns="{core}">')
    xml.append("<resources>")
    for i, (name, content) in enumerate(objects, start=1):
        xml.append(f'<object id="{i}" name="{name}" type="model">')
        if isinstance(content, list):
            xml.append("<components>")
            for of, at in content:
                xml.append(f'<component objectid="{of}" transform="{transform(at)}"/>')
            xml.append("</components>")
        else:
            vertices, triangles = content
            xml.append("<mesh><vertices>")
            for x, y, z in vertices.astype(float) / mm_per_unit:
                xml.append(f'<vertex x="{number(x)}" y="{number(y)}" z="{number(z)}"/>')
            xml.append("</vertices><triangles>")
            for a, b, c in triangles:
                xml.append(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>')
            xml.append("</triangles></mesh>")
        xml.append("</object>")
    xml.append("</resources><build>")
    for of, at in items:
        xml.append(f'<item objectid="{of}" transform="{transform(at)}"/>')
    xml.append("</build></model>\n")

    package = "http://schemas.openxmlformats.org/package/2006"
    types = (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<Types xmlns="{package}/content-types">'
        '<Default Extension="rels" '
        'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        '<Default Extension="model" '
        'ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>\n'
    )
    relations = (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<Relationships xmlns="{package}/relationships">'
        '<Relationship Id="rel0" Target="/3D/3dmodel.model" '
        'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>\n'
    )
    entries = [
        ("[Content_Types].xml", types),
        ("_rels/.rels", relations),
        ("3D/3dmodel.model", "\n".join(xml)),
    ]
    with zipfile.ZipFile(path, "w") as archive:
        for name, text in entries:
            info = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))  # no clock
            info.compress_type = zipfile.ZIP_DEFLATED
            info.create_system = 3  # the same on every system
            archive.writestr(info, text, compresslevel=9)


def number(x):
    """Shortest decimal that is exact to 0.01 um in mm or cm; never an exponent."""
    text = f"{float(x):.6f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
