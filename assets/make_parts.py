# requirements: manifold3d==3.5.4 numpy==2.4.6
"""Makes the parts of the demo jobs, a small kit for a coastal tide gauge, into assets/parts/.

    pip install manifold3d==3.5.4 numpy==2.4.6
    python assets/make_parts.py

The same versions give the same bytes. All lengths are mm. Each function below makes one part,
standing on z = 0 unless its comment says otherwise. The parts are ours and may be used under the
licence of this repository.
"""

from math import atan2, cos, degrees, hypot, pi, radians, sin
from pathlib import Path

import numpy as np
from manifold3d import CrossSection, JoinType, Manifold, Mesh, OpType

from mesh_files import canonical, write_3mf, write_obj, write_stl

PARTS = Path(__file__).parent / "parts"
SEGMENTS = 72  # around a full turn of the larger round parts: chords within 0.04 mm at 40 mm radius


# ---- small helpers ------------------------------------------------------------------------------


def polygon(*points):
    """A section from its corners in either sense."""
    corners = np.array(points, dtype=float)
    x, y = corners.T
    if np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) < 0:
        corners = corners[::-1]
    return CrossSection([corners.tolist()])


def turned(*points, segments=SEGMENTS):
    """A solid of revolution about Z from the (radius, height) corners of its section."""
    return Manifold.revolve(polygon(*points), segments)


def rod(height, radius, at=(0, 0, 0), segments=32):
    return Manifold.cylinder(height, radius, radius, segments).translate(at)


def cone(height, low, high, at=(0, 0, 0), segments=32):
    return Manifold.cylinder(height, low, high, segments).translate(at)


def box(size, at):
    """A box by its size and the middle of its base."""
    return Manifold.cube(size, True).translate([at[0], at[1], at[2] + size[2] / 2])


def rounded(width, depth, radius, segments=32):
    """A rectangle about the origin with round corners."""
    inner = CrossSection.square([width - 2 * radius, depth - 2 * radius], True)
    return inner.offset(radius, JoinType.Round, 2.0, segments)


def smooth(section, inner, outer=0.0, segments=32):
    """Rounds the hollow corners of a section by `inner`, then the others by `outer`."""
    section = section.offset(inner, JoinType.Miter, 4.0).offset(
        -inner, JoinType.Round, 2.0, segments
    )
    if outer:
        section = section.offset(-outer, JoinType.Miter, 4.0)
        section = section.offset(outer, JoinType.Round, 2.0, segments)
    return section


def slot(length, width, segments=24):
    """A slot along X with round ends, centred; `length` from end to end."""
    half = (length - width) / 2
    ends = [CrossSection.circle(width / 2, segments).translate([x, 0]) for x in (-half, half)]
    return CrossSection.batch_hull(ends)


def around(solid, count, start=0.0):
    """Copies of a solid spread evenly about Z."""
    return union(solid.rotate([0, 0, start + 360 * i / count]) for i in range(count))


def union(solids):
    result = Manifold()
    for solid in solids:
        result += solid
    return result


def hexagon(across_flats, height, at_z=0.0, chamfer=1.2):
    """A hexagonal prism with its corners turned off at both ends."""
    corner = across_flats / 3**0.5
    prism = rod(height, corner, (0, 0, at_z), 6)
    top, inner, outer, c = at_z + height, corner - chamfer, corner + 0.2, chamfer * 0.6
    return prism ^ turned(
        (0, at_z), (inner, at_z), (outer, at_z + c), (outer, top - c), (inner, top), (0, top)
    )


def thread(major, minor, pitch, length):
    """A cylinder with one helical ridge, z from 0 to `length`; corners lie on true helices."""
    steps = 36  # around a turn
    # corners of one ridge along the axis, as shares of the pitch, and their radii
    ridge = [(0.0, minor / 2), (0.2, minor / 2), (0.45, major / 2), (0.75, major / 2)]
    turns = int(length / pitch) + 4
    vertices = []
    for k in range(4 * turns):
        share, radius = ridge[k % 4]
        for j in range(steps):
            angle = 2 * pi * j / steps
            z = (k // 4 + share + j / steps - 2) * pitch
            vertices.append((radius * cos(angle), radius * sin(angle), z))

    def at(k, j):  # a step beyond the last is a pitch higher at the first
        return (k + 4 * (j // steps)) * steps + j % steps

    triangles = []
    last = 4 * turns - 5
    for k in range(last):
        for j in range(steps):
            a, b, c, d = at(k, j), at(k, j + 1), at(k + 1, j + 1), at(k + 1, j)
            triangles += [(a, b, c), (a, c, d)]
    for k, tip_z, outward in [(0, -4 * pitch, -1), (last, (turns + 2) * pitch, 1)]:
        tip = len(vertices)
        vertices.append((0.0, 0.0, tip_z))
        loop = [at(k, j) for j in range(steps)] + [at(k + i, 0) for i in (4, 3, 2, 1)]
        for a, b in zip(loop, loop[1:] + loop[:1]):
            triangles.append((a, b, tip)[::outward])
    used = sorted({i for triangle in triangles for i in triangle})
    new = {old: i for i, old in enumerate(used)}
    triangles = np.array([[new[i] for i in triangle] for triangle in triangles], np.uint32)
    screw = Manifold(Mesh(np.array(vertices, np.float32)[used], triangles))
    assert screw.volume() > 0
    # A turn by an odd angle keeps its edges off those of what it is joined with.
    return screw.rotate([0, 0, 3.3]) ^ rod(length, major, segments=12)


# ---- the kit ------------------------------------------------------------------------------------


def shield_plate():
    """One plate of a stack that shades a thermometer and lets the wind through."""
    plate = turned(
        (16, 3.2),
        (17.2, 3.2),
        (17.6, 1.8),
        (27, 1.8),
        (38, -6.2),
        (38, -8.6),
        (36.8, -8.6),
        (36.8, -7.1),
        (26.5, 0),
        (16, 0),
    )
    gusset = polygon((20.5, 0.9), (34, -3.6), (34, -3.2), (26.5, 4.5), (20.5, 4.5)).extrude(1.6)
    gusset = gusset.rotate([90, 0, 0]).translate([0, 0.8, 0])
    post = rod(9.4, 3.6, (23, 0, 0), 36) + gusset
    spigot = cone(1.2, 2.9, 2.5, (23, 0, 9.3), 36)
    solid = plate + around(post + spigot, 3)
    hole = rod(40, 1.7, (23, 0, -20), 24) + cone(1.4, 3.15, 3.05, (23, 0, -0.01), 36)
    return solid - around(hole, 3)


def cup_rotor():
    """Three cups on a hub: a small anemometer."""
    reach, radius, wall = 27.0, 11.5, 1.2
    shell = Manifold.sphere(radius, 48) ^ box((60, 30, 60), (0, 15, -30))  # opens towards -Y
    bead = turned((radius - 2, 0), (radius + 0.7, 0), (radius + 0.7, 1.5), (radius - 2, 1.5))
    outer = (shell + bead.rotate([-90, 0, 0])).translate([reach, 0, 0])
    inner = Manifold.sphere(radius - wall, 48).translate([reach, 0, 0])
    arm = cone(reach - 5, 2.6, 2.0, segments=20).scale([1.5, 0.8, 1]).rotate([0, 90, 0])
    arm = arm.rotate([0, 0, 6]).translate([3, 0.6, 0])
    blades = around(outer + arm, 3) - around(inner, 3)
    hub = turned((0, -9), (5.2, -9), (6, -8.2), (6, 5), (3.4, 9.4), (0, 10))
    bore = rod(16, 1.6, (0, 0, -10), 28) - box((4, 2, 20), (0, 2.3, -10))  # a D for the shaft
    grub = rod(10, 1.25, segments=20).rotate([90, 0, 0]).translate([0, 0, -6])
    solid = blades + hub - bore - grub
    return solid.translate([0, 0, -solid.bounding_box()[2]])


def cable_gland_body():
    """Lower thread for the housing, flange, upper thread for the nut, fingers that grip."""
    pitch, major, minor = 2.5, 20.0, 17.5
    lower = thread(major, minor, pitch, 10.5) ^ turned(
        (0, 0), (8.6, 0), (10, 1.4), (10, 10.5), (0, 10.5)
    )
    flange = hexagon(26, 5, 10) + turned((0, 9.6), (12.4, 9.6), (12.4, 10.4), (0, 10.4))
    upper = thread(major, minor, pitch, 10).translate([0, 0, 14.5]) ^ turned(
        (0, 14), (10, 14), (10, 23.2), (8.7, 24.5), (0, 24.5)
    )
    fingers = turned((0, 24), (8.4, 24), (8.4, 28), (6.6, 32.5), (0, 32.5), segments=48)
    bore = turned((0, -1), (4.8, -1), (4.8, 13), (6, 15), (6, 33), (0, 33), segments=48)
    slits = around(box((20, 1.1, 10), (10, 0, 25.4)), 10)
    return lower + flange + upper + fingers - bore - slits


def gland_nut():
    """Nut with an inner cone that presses the fingers together."""
    body = hexagon(26, 9) + turned((0, 8), (12.6, 8), (12.6, 12), (9.5, 15.5), (0, 15.5))
    grooves = around(rod(20, 0.9, (13.0, 0, 9.5), 12), 18, 10)
    inside = thread(20.4, 17.9, 2.5, 10.5).translate([0, 0, -0.4])
    lead = cone(1.6, 10.6, 8.9, (0, 0, -0.01), 48)
    seat = turned((0, 9), (8.9, 9), (8.9, 11), (6.2, 14.5), (6.2, 16), (0, 16), segments=48)
    return body - grooves - inside - lead - seat


def hinge():
    """Two leaves that are built as one piece and turn on cones; 0.45 mm between them."""
    gap, knuckles, width, barrel, thick = 0.45, 5, 48.0, 4.4, 3.0
    step = width / knuckles
    leaf_section = rounded(width, 25, 4).translate([0, 12.5]) + CrossSection.square(
        [width, 10]
    ).translate([-width / 2, 0])
    screw = rod(10, 1.8, (0, 0, -1), 24) + cone(1.8, 1.8, 3.6, (0, 0, thick - 1.7), 32)
    holes = union(screw.translate([x, 17, 0]) for x in (-16, 0, 16))

    def half(own):
        leaf = leaf_section.extrude(thick)
        web = polygon((0, 0), (8.5, 0), (8.5, thick), (7.2, thick), (3.0, 7.4), (0, 7.4))
        web = web.extrude(width).rotate([90, 0, 90]).translate([-width / 2, 0, 0])
        room = Manifold()
        barrels = Manifold()
        for i in range(knuckles):
            x = -width / 2 + i * step
            if i % 2 == own:
                cut_low, cut_high = (gap / 2 if i > 0 else 0), (gap / 2 if i < knuckles - 1 else 0)
                along = rod(step - cut_low - cut_high, barrel, (0, 0, cut_low), 40)
                barrels += along.rotate([0, 90, 0]).translate([x, 0, barrel])
            else:
                free = rod(step + gap, barrel + gap, (0, 0, -gap / 2), 40)
                free += box(
                    (2 * barrel + 2 * gap, barrel + gap, step + gap),
                    (0, -barrel / 2 - gap / 2, -gap / 2),
                ).rotate([0, 0, 90])
                room += free.rotate([0, 90, 0]).translate([x, 0, barrel])
        return leaf + web - room + barrels - holes

    first, second = half(0), half(1)
    # knuckles of the second leaf carry cones that reach into those of the first
    for i in range(1, knuckles, 2):
        for x, way in [
            (-width / 2 + i * step + gap / 2, -1),
            (-width / 2 + (i + 1) * step - gap / 2, 1),
        ]:
            stub = cone(2.6, 3.0, 0.8, (0, 0, -0.01), 32)
            hollow = cone(4.0, 3.0 + 0.62, 3.62 - 4.0 * 2.2 / 2.6, (0, 0, -0.01), 32)
            room = hollow.translate([0, 0, gap]) + rod(gap + 0.1, 3.62, (0, 0, 0), 32)
            second += stub.rotate([0, 90 * way, 0]).translate([x, 0, barrel])
            first -= room.rotate([0, 90 * way, 0]).translate([x, 0, barrel])
    return [first, second.mirror([0, 1, 0])]


def chain():
    """Eight links that hang in each other, 0.6 mm apart."""
    bend, straight, wire, pitch, links = 4.4, 7.0, 1.6, 12.0, 8
    path = []
    for side in (1, -1):
        for i in range(13):
            angle = pi / 2 - pi * i / 12 + (0 if side > 0 else pi)
            path.append((side * straight / 2 + bend * cos(angle), bend * sin(angle), angle))
    ring, vertices = 12, []
    for x, y, angle in path:
        for k in range(ring):
            turn = 2 * pi * (k + 0.5) / ring
            out, up = wire * cos(turn), wire * sin(turn)
            vertices.append((x + out * cos(angle), y + out * sin(angle), up))
    triangles = []
    for i in range(len(path)):
        for k in range(ring):
            a, b = i * ring + k, i * ring + (k + 1) % ring
            c, d = (b + ring) % len(vertices), (a + ring) % len(vertices)
            triangles += [(a, b, c), (a, c, d)]
    link = Manifold(Mesh(np.array(vertices, np.float32), np.array(triangles, np.uint32)[:, ::-1]))
    if link.volume() < 0:
        link = Manifold(Mesh(np.array(vertices, np.float32), np.array(triangles, np.uint32)))
    assert link.volume() > 0
    return [
        link.rotate([45 if i % 2 else -45, 0, 0]).translate([i * pitch, 0, 0]) for i in range(links)
    ]


def snap_clip():
    """Clip for a 12 mm cable, to be screwed down."""
    ring = CrossSection.circle(7.8, 64)
    foot = rounded(36, 5, 1.2).translate([0, -8.6])
    body = smooth(ring + foot + CrossSection.square([9, 6], True).translate([0, -7]), 1.6)
    mouth = polygon((0, 0), (11, 11.5), (-11, 11.5)) + polygon((0, 0), (6, 20), (-6, 20))
    body -= CrossSection.circle(5.9, 64) + mouth
    lips = [CrossSection.circle(1.25, 24).translate([side * 4.95, 5.15]) for side in (-1, 1)]
    body += lips[0] + lips[1]
    for side in (-1, 1):
        horn = CrossSection.batch_hull(
            [
                CrossSection.circle(r, 20).translate([side * x, y])
                for r, x, y in [(1.1, 5.0, 5.3), (0.8, 6.9, 8.6)]
            ]
        )
        body += horn
    solid = body.extrude(9)
    screw = (
        rod(12, 1.7, segments=24)
        + cone(1.6, 1.7, 3.3, (0, 0, 4.1), 28)
        + rod(6, 3.3, (0, 0, 5.65), 28)
    )
    for side in (-1, 1):
        solid -= screw.rotate([-90, 0, 0]).translate([side * 13, -12, 4.5])
    return solid


def float_lower():
    """Bowl of the float: flange with a groove for an O-ring, eye for the line below."""
    body = turned(
        (0, 3),
        (9, 3.4),
        (15.5, 6.2),
        (19.3, 11),
        (20.6, 16),
        (20.6, 25.4),
        (27, 25.4),
        (27, 29),
        (18.8, 29),
        (18.8, 16.4),
        (17.6, 12),
        (14.4, 8),
        (8.6, 5.5),
        (0, 5.1),
    )
    ring = rounded(10, 11, 4.9).extrude(3.2).rotate([90, 0, 0]).translate([0, 1.6, 2.6])
    body += ring - rod(9, 2.2, (0, 0, -4.5), 28).rotate([90, 0, 0]).translate([0, 0, 0.4])
    groove = turned((19.8, 27.5), (21.8, 27.5), (21.8, 30), (19.8, 30))
    holes = around(rod(10, 1.3, (24, 0, 22), 20), 8)
    solid = body - groove - holes
    return solid.translate([0, 0, -solid.bounding_box()[2]])


def float_upper():
    """Lid of the float, flange down: a ridge centres it in the bowl, a rod guide stands on top."""
    body = turned(
        (18.5, 0),
        (27, 0),
        (27, 3.2),
        (20.8, 3.2),
        (20.2, 8),
        (17.6, 12.4),
        (12.6, 15.4),
        (6.4, 16.6),
        (5.2, 17.4),
        (4.6, 22),
        (2.1, 22),
        (2.1, 15),
        (6, 14.8),
        (11.8, 13.6),
        (16.2, 11),
        (18.4, 7.2),
    )
    ridge = turned((17, -2.2), (18.2, -2.2), (18.6, -1.8), (18.6, 0.2), (18.4, 3), (17, 2))
    ribs = around(
        polygon((4, 15.4), (7.6, 15.4), (4, 20.6))
        .extrude(1.4)
        .rotate([90, 0, 0])
        .translate([0, 0.7, 0]),
        6,
        30,
    )
    holes = around(rod(20, 1.6, (24, 0, -5), 20), 8)
    solid = body + ridge + ribs - holes
    return solid.translate([0, 0, -solid.bounding_box()[2]])


def sensor_bracket():
    """Angle with two gussets: slots below, a round sensor in the upright."""
    width, depth, height, thick = 32.0, 40.0, 38.0, 3.6
    base = rounded(width, depth, 4).translate([0, depth / 2]) + CrossSection.square(
        [width, 10]
    ).translate([-width / 2, 0])
    base -= union_2d(slot(11, 4.4).rotate(90).translate([x, 26]) for x in (-9.5, 9.5))
    upright = CrossSection.square([width, height - 10]).translate([-width / 2, 0])
    upright += rounded(width, 20, 7).translate([0, height - 10])
    collar = CrossSection.circle(11.4, 56).translate([0, 21.5])
    wall = upright.extrude(thick) + collar.extrude(thick + 2.4)
    wall -= rod(20, 8.6, (0, 21.5, -5), 56)
    wall -= union(
        rod(20, 1.3, (13 * x, 21.5 + 13 * y, -5), 20) for x in (-0.9, 0.9) for y in (-0.9, 0.9)
    )
    side = smooth(
        polygon((0, 0), (depth - 6, 0), (depth - 6, thick), (thick, height - 8), (0, height - 8)),
        0,
        1.0,
    )
    side = side.extrude(2.6).rotate([90, 0, 90])
    solid = base.extrude(thick) + wall.rotate([90, 0, 0]).translate([0, thick, 0])
    solid += side.translate([-width / 2, 0, 0]) + side.translate([width / 2 - 2.6, 0, 0])
    fillet = (CrossSection.square([4, 4]) - CrossSection.circle(4, 40).translate([4, 4])).extrude(
        width - 2
    )
    return solid + fillet.rotate([90, 0, 90]).translate(
        [-width / 2 + 1, thick - 0.05, thick - 0.05]
    )


def union_2d(sections):
    result = CrossSection()
    for section in sections:
        result += section
    return result


def grille():
    """Intake grille whose walls go from far below to above the width that one mark melts.

    Left half: slats of 0.20 to 0.60 mm. Right half: honeycomb with walls of 0.30 mm.
    """
    size, rim, height = 46.0, 3.0, 5.0
    frame = rounded(size, size, 5)
    window = rounded(size - 2 * rim, size - 2 * rim, 2.5)
    walls = [0.20, 0.25, 0.30, 0.35, 0.40, 0.45, 0.50, 0.55, 0.60]
    slats = CrossSection()
    for i, wall in enumerate(walls):
        slats += CrossSection.square([wall, size - 4], True).translate([-19.0 + 2.05 * i, 0])
    slats += CrossSection.square([1.2, size - 4], True).translate([-0.6, 0])  # between the halves
    for y in (-10, 10):
        slats += CrossSection.square([20.5, 0.8], True).translate([-10.5, y])
    pitch, wall = 4.0, 0.30
    cell = CrossSection.circle((pitch - wall) / 3**0.5, 6)  # flats to the sides after the turn
    cells = CrossSection()
    for row in range(-8, 9):
        for column in range(-1, 8):
            x = 0.6 + pitch * (column + (row % 2) / 2)
            cells += cell.rotate(90).translate([x, row * pitch * 3**0.5 / 2])
    comb = CrossSection.square([size / 2 - 1, size - 4]).translate([-0.05, -size / 2 + 2]) - cells
    section = (frame - window) + ((slats + comb) ^ window.offset(0.2, JoinType.Round, 2.0, 32))
    screws = union_2d(
        CrossSection.circle(1.15, 20).translate([x * (size / 2 - 3.2), y * (size / 2 - 3.2)])
        for x in (-1, 1)
        for y in (-1, 1)
    )
    corners = union_2d(
        CrossSection.circle(3.1, 28).translate([x * (size / 2 - 3.2), y * (size / 2 - 3.2)])
        for x in (-1, 1)
        for y in (-1, 1)
    )
    return (section + corners ^ frame).extrude(height) - screws.extrude(height)


def lattice():
    """Wave damper: a lattice of struts between two plates with drain holes."""
    cell, count, radius, plate = 8.0, (3, 3, 2), 0.8, 1.2
    size = np.array(count) * cell
    struts = []
    for i, (a, b) in enumerate([(1, 1), (1, -1), (-1, 1), (-1, -1)]):
        way = np.array([a, b, 1])
        for start in np.ndindex(*count):
            if inside(start - way, count):
                continue  # lies on the strut that starts in the cell before
            cells = next(n for n in range(1, 4) if not inside(start + n * way, count))
            middle = (np.array(start) + 0.5) * cell
            low, high = middle - way * cell / 2, middle + way * cell * (cells - 0.5)
            struts.append(beam(low, high, radius, 11 + 17 * i))
    body = Manifold.batch_boolean(struts, OpType.Add)
    body ^= Manifold.cube([size[0] + 2, size[1] + 2, size[2]]).translate([-1, -1, 0])
    skin = rounded(size[0] + 2.4, size[1] + 2.4, 2).translate([size[0] / 2, size[1] / 2])
    drains = union_2d(
        CrossSection.circle(2.4, 24).translate([(x + 0.5) * cell, (y + 0.5) * cell])
        for x in range(count[0])
        for y in range(count[1])
    )
    skin = (skin - drains).extrude(plate)
    body += skin.translate([0, 0, 0.3 - plate]) + skin.translate([0, 0, size[2] - 0.3])
    return body.translate([-size[0] / 2, -size[1] / 2, plate - 0.3])


def inside(cell, count):
    return all(0 <= c < n for c, n in zip(cell, count))


def beam(start, end, radius, turn_deg):
    """A five-sided strut between two points, a little longer than their distance.

    Odd turns about their own axes keep the edges of struts that meet from meeting in one point.
    """
    way = np.asarray(end) - np.asarray(start)
    length = float(np.linalg.norm(way))
    over = 0.3
    bar = rod(length + 2 * over, radius, (0, 0, -over), 5).rotate([0, 0, turn_deg])
    polar = degrees(atan2(hypot(way[0], way[1]), way[2]))
    return bar.rotate([0, polar, degrees(atan2(way[1], way[0]))]).translate(start)


def mast_clamp():
    """Half of a clamp for a 34 mm mast, saddle up: ribbed grip, traps for M5 nuts below."""
    mast, width = 17.0, 20.0
    outline = polygon(
        (-32, 13), (-32, 20), (32, 20), (32, 13), (22, 13), (16, 0), (-16, 0), (-22, 13)
    )
    outline = smooth(outline, 4, 1.2)
    grip = union_2d(
        CrossSection.circle(0.7, 12).translate(
            [mast * cos(radians(a)), 22 + mast * sin(radians(a))]
        )
        for a in range(200, 341, 10)
    )
    outline -= CrossSection.circle(mast, 96).translate([0, 22]) + grip
    solid = outline.extrude(width).rotate([90, 0, 0]).translate([0, width / 2, 0])
    for side in (-1, 1):
        solid -= rod(40, 2.7, (side * 26, 0, -5), 28)
        solid -= rod(6, 8.2 / 3**0.5, (side * 26, 0, 10.9), 6)
    ring = turned((0, -1), (2.2, -1), (2.2, 12), (0, 12))
    solid -= ring.translate([-9, 0, 0]) + ring.translate([9, 0, 0])
    pocket = rounded(10, width - 6, 1.5).extrude(2.4)
    return solid - pocket


def well_cap():
    """Cap of the stilling well: grip ribs, hooded vents, boss for the line of the float."""
    cap = turned(
        (0, 14.6),
        (27.4, 14.6),
        (28.6, 13.6),
        (28.6, 0),
        (30.4, 0),
        (31, 0.6),
        (31, 14.5),
        (28.6, 17.4),
        (0, 19),
    )
    ribs = around(rod(12.4, 1.1, (31, 0, 1.2), 8), 30)
    snap = turned((27.9, 3.2), (28.8, 2.2), (28.8, 5.6))

    def dome(x, y, z):
        return Manifold.sphere(1, 20).scale([x, y, z]).translate([17.5, 0, 17])

    hoods = around(dome(8.6, 5.2, 5.0), 6) ^ rod(20, 40, (0, 0, 15.2), 12)
    room = dome(7.4, 4.0, 3.8) ^ box((30, 30, 20), (17.5, 0, 15.9))
    room += slot(12, 5).extrude(6).translate([17.5, 0, 12])
    mouth = dome(7.4, 9, 3.8) ^ box((30, 10, 20), (17.5, 5.5, 17.9))
    boss = turned((0, 15), (7.5, 15), (7.5, 20), (6.3, 22.6), (0, 22.6))
    bore = turned((0, 0), (2.6, 0), (2.6, 20), (4.4, 24), (0, 24))
    return cap + ribs + snap + hoods + boss - around(room + mouth, 6) - bore


def battery_tray():
    """Cradle for two cells of 18 x 65 mm: pockets for contacts, strap slots, polarity marks."""
    length, width, height, cell = 76.0, 41.0, 13.0, 9.3
    body = rounded(length, width, 3).extrude(height)
    for side in (-1, 1):
        trough = (
            rod(66, cell, segments=64).rotate([0, 90, 0]).translate([-33, side * 9.8, 2 + cell])
        )
        body -= trough + box((66, 2 * cell - 2.6, 20), (0, side * 9.8, 2 + cell))
        for end in (-1, 1):
            body -= box((1.1, 10, 20), (end * 34.6, side * 9.8, 2.6))
            body -= box((3, 5, 20), (end * 33.6, side * 9.8, 2.6))
    body -= box((56, 2.6, 20), (0, 0, 8.4))  # channel of the wire
    strap = rounded(8, 2.4, 1).extrude(30).translate([0, 0, -1])
    body -= strap.translate([-17, 0, 0]) + strap.translate([17, 0, 0])
    tabs = union(
        rounded(12, 11, 4).extrude(2.8).translate([x, y * (width / 2 + 2), 0])
        for x, y in [(-24, 1), (24, -1)]
    )
    body += tabs
    for x, y in [(-24, 1), (24, -1)]:
        body -= rod(10, 1.8, (x, y * (width / 2 + 3.2), -1), 24)
    bar = box((7, 1.6, 2), (0, 0, 1.4))
    for side in (-1, 1):
        body -= bar.translate([side * -22, side * 9.8, 0])
        body -= (bar + bar.rotate([0, 0, 90])).translate([side * 22, side * 9.8, 0])
    return body


# ---- files --------------------------------------------------------------------------------------


def merged(solids):
    """One mesh with a shell per solid; refuses shells closer than 0.4 mm."""
    for i, a in enumerate(solids):
        for b in solids[i + 1 :]:
            assert (a ^ b).is_empty() and a.min_gap(b, 1.0) > 0.4, a.min_gap(b, 1.0)
    return Manifold.compose(solids)


def main():
    PARTS.mkdir(exist_ok=True)
    for make in [
        shield_plate,
        cup_rotor,
        hinge,
        chain,
        snap_clip,
        float_lower,
        float_upper,
        grille,
        lattice,
        mast_clamp,
        well_cap,
        battery_tray,
    ]:
        write_stl(PARTS / f"{make.__name__}.stl", *mesh_of(make))
    write_obj(PARTS / "sensor_bracket.obj", "sensor_bracket", *mesh_of(sensor_bracket))
    stay = [1, 0, 0, 0, 1, 0, 0, 0, 1]
    write_3mf(
        PARTS / "cable_gland.3mf",
        "centimeter",
        10.0,
        [
            ("gland_body", mesh_of(cable_gland_body)),
            ("nut_threads_up", mesh_of(gland_nut)),
            # the nut as it is built: open end up, a half turn about X
            ("gland_nut", [(2, [1, 0, 0, 0, -1, 0, 0, 0, -1, 0, 0, 15.5])]),
        ],
        [(1, stay + [0, 0, 0]), (3, stay + [40, 0, 0])],
    )


def mesh_of(make):
    solid = make()
    pieces = len(solid) if isinstance(solid, list) else 1
    solid = merged(solid) if pieces > 1 else solid
    solid = solid.simplify(0.002)
    vertices, triangles = canonical(solid)
    assert len(solid.decompose()) == pieces, f"{make.__name__}: {len(solid.decompose())} shells"
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    size = " x ".join(f"{x:.1f}" for x in high - low)
    volume = solid.volume() / 1000
    print(f"{make.__name__:18} {len(triangles):6} triangles  {size} mm  {volume:.2f} cm3")
    return vertices, triangles


if __name__ == "__main__":
    main()
