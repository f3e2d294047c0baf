"""Models the demo cages and writes them beside this script, with the tables of README.md.

    python3 demo/model_cages.py

Needs numpy. Each cage is modelled clean first (`*_form`), then gets a few oddities that do no
harm (`*_oddities`) and a few mistakes such as a modeller leaves by accident (`*_faults`).
"""

from pathlib import Path

import numpy as np

from cage_tools import (
    Cage, Remark, collapse, drop_unused, face_with, fill_ring, fill_sides, flip, grid_faces,
    dissolve_edge, dissolve_loop, obj_text, pack_charts, projected, push, rip, slide,
    spin_edge, split_quad, survey, sweep,
)

HERE = Path(__file__).parent

# --- ventilator cowl: the half x >= 0 ---------------------------------------------------

COWL_SEGMENTS = 8  # round the half; 16 round the whole, enough for a clean circle
BEND_HEIGHT, BEND_RADIUS = 0.25, 0.19  # the elbow's centre line, metres


def cowl_ring(cage, angle, along, radius):
    """Half circle across the pipe, from under the bend (index 0) over the side to its back.

    `angle` is how far the elbow has turned (degrees); `along` shifts the ring down the pipe.
    """
    a = np.radians(angle)
    tangent = np.array([0.0, np.cos(a), np.sin(a)])
    outwards = np.array([0.0, np.sin(a), -np.cos(a)])
    bend_centre = np.array([0.0, BEND_HEIGHT, BEND_RADIUS])
    centre = bend_centre + BEND_RADIUS * outwards + along * tangent
    turns = np.linspace(-np.pi / 2, np.pi / 2, COWL_SEGMENTS + 1)
    side = np.array([1.0, 0.0, 0.0])
    points = [centre + radius * (np.cos(t) * side + np.sin(t) * outwards) for t in turns]
    points[0][0] = points[-1][0] = 0.0  # exactly on the mirror plane
    return cage.add_ring(points)


def cowl_base_ring(cage, height, radius):
    return cowl_ring(cage, 0.0, height - BEND_HEIGHT, radius)


def cowl_form():
    """Flange, neck with a collar, elbow, flared mouth with a thick rim, inner wall, baffle."""
    cage = Cage("cowl")
    parts = {}
    base = lambda pairs: [cowl_base_ring(cage, height, radius) for height, radius in pairs]

    cage.pen = ("flange", "painted_steel", 1)
    # Support loops 4 mm either side of the flange's edge, and at its foot.
    edge = base([(0.0, 0.185), (0.005, 0.185), (0.016, 0.185), (0.020, 0.185)])
    top = base([(0.020, 0.180), (0.020, 0.160), (0.020, 0.138), (0.020, 0.122), (0.020, 0.115)])
    sweep(cage, edge, "flange_edge", False)
    sweep(cage, edge[-1:] + top, "flange_top", False, projected(cage, 0, 2))

    cage.pen = ("neck", "painted_steel", 2)
    neck = base([(0.026, 0.1135), (0.055, 0.112), (0.095, 0.111), (0.131, 0.1105)])
    # The collar on which the cowl turns: every edge held by a loop on each side.
    collar = base([
        (0.135, 0.111), (0.1355, 0.119), (0.139, 0.1225), (0.150, 0.123), (0.161, 0.1225),
        (0.1645, 0.119), (0.165, 0.111), (0.169, 0.1105),
    ])
    throat = base([(0.195, 0.111), (0.225, 0.1115)])
    elbow = [
        cowl_ring(cage, angle, 0.0, radius)
        for angle, radius in [
            (4, 0.1125), (18, 0.116), (32, 0.121), (46, 0.127), (60, 0.134), (74, 0.1425),
        ]
    ]
    sweep(cage, top[-1:] + neck + collar[:1], "neck", False)
    cage.pen = ("collar", "brass", 2)
    sweep(cage, collar[:7], "collar", False)
    cage.pen = ("elbow", "painted_steel", 2)
    sweep(cage, collar[6:] + throat + elbow, "elbow", False)

    cage.pen = ("mouth", "painted_steel", 2)
    flare = [
        cowl_ring(cage, 90, along, radius)
        for along, radius in [
            (-0.006, 0.152), (0.034, 0.164), (0.070, 0.180), (0.100, 0.201), (0.122, 0.227),
        ]
    ]
    rim = [  # a rolled lip 14 mm thick: three rings turn it, one on each side holds it
        cowl_ring(cage, 90, along, radius)
        for along, radius in [
            (0.131, 0.243), (0.137, 0.251), (0.146, 0.252), (0.151, 0.246), (0.149, 0.237),
        ]
    ]
    sweep(cage, elbow[-1:] + flare + rim[:3], "mouth_outside", False)

    cage.pen = ("inside", "red_lead", 2)
    inner = [
        cowl_ring(cage, angle, along, radius)
        for angle, along, radius in [
            (90, 0.140, 0.224), (90, 0.117, 0.200), (90, 0.090, 0.180), (90, 0.058, 0.164),
            (90, 0.022, 0.151), (88, -0.012, 0.141), (76, 0.0, 0.132), (62, 0.0, 0.124),
        ]
    ]
    foot = [cowl_ring(cage, 55, 0.0, 0.1205), cowl_ring(cage, 53, 0.0, 0.119)]
    floor = [cowl_ring(cage, 53, 0.0, 0.112), cowl_ring(cage, 53, 0.0, 0.085)]
    sweep(cage, rim[2:] + inner + foot, "mouth_inside", False)
    cage.pen = ("baffle", "red_lead", 3)
    flat = projected(cage, 0, 1)
    sweep(cage, foot[-1:] + floor, "baffle", False, flat)
    parts["baffle"] = close_half(cage, floor[-1], "baffle", flat)
    parts.update(edge=edge, top=top, elbow=elbow, flare=flare, rim=rim, inner=inner)
    return cage, parts


def close_half(cage, ring, chart, uv):
    """Close a half circle of 8 segments with a 2 x 4 grid whose west side is the mirror plane."""
    ends = [np.array(cage.positions[v]) for v in (ring[0], ring[-1])]
    middle = cage.add_ring([ends[0] + s * (ends[1] - ends[0]) for s in (0.25, 0.5, 0.75)])
    west = [ring[0]] + middle + [ring[-1]]
    return fill_sides(cage, ring[:3], ring[2:7], ring[6:][::-1], west, chart, uv)


def cowl_oddities(cage, parts):
    grid = parts["baffle"]
    split_quad(cage, [grid[1][0], grid[1][1], grid[2][1], grid[2][0]])
    cage.oddities += [
        Remark([grid[1][0], grid[1][1], grid[2][1], grid[2][0]], "two triangles",
               "on the flat baffle deep inside the mouth: nothing bends there"),
        Remark([grid[0][-1], grid[-1][-1]], "3-poles",
               "the corners of the baffle's grid, on flat ground: that is where poles belong"),
    ]


def cowl_faults(cage, parts):
    edge, top, elbow, flare, rim = (parts[k] for k in ("edge", "top", "elbow", "flare", "rim"))
    stray = flare[2][-1]
    cage.positions[stray] = cage.positions[stray] + [0.004, 0.0, 0.0]
    cage.faults.append(Remark(
        [stray], "centre-line vertex off the plane x = 0",
        "a slit 8 mm wide on top of the mouth once the half is mirrored",
        "set its x to 0"))

    lump = elbow[3][5]
    push(cage, lump, 0.014)
    cage.faults.append(Remark(
        [lump], "vertex pushed off the form", "a lump on the side of the elbow",
        "push it 14 mm back in, or relax it between its neighbours"))

    squeezed = flare[3][2:5]
    for vertex, towards in zip(squeezed, flare[4][2:5]):
        slide(cage, vertex, towards, 0.82)
    cage.faults.append(Remark(
        squeezed, "loop squeezed against the next on curved ground",
        "a pinch across the flare of the bell mouth, under the side",
        "slide the loop back to the middle of its strip"))

    ends = [loop[k] for loop in (top[0], edge[2]) for k in (3, 6)]
    for loop in (top[0], edge[2]):
        dissolve_loop(cage, loop, 4, 5)
    cage.faults.append(Remark(
        ends + edge[3][3:7], "support loops missing for part of the edge",
        "the flange's upper edge melts between the five-sided faces where the loops stop",
        "cut both loops through again, 4 to 5 mm from the edge"))

    kept, gone = elbow[3][1], elbow[3][2]
    collapse(cage, gone, kept)
    cage.faults.append(Remark(
        [kept], "6-pole between two triangles on tight curvature, from a weld too many",
        "a lump with a crease on both sides, under the bend",
        "split the vertex in two round the pipe, so that both loops run on in quads"))


# --- mooring cleat ----------------------------------------------------------------------

PLATE_HALF_LENGTH, PLATE_HALF_WIDTH, PLATE_CORNER = 0.150, 0.046, 0.024
PLATE_THICKNESS = 0.012
# Grid lines of the plate: bolt and post each stand in an opening of 2 x 2 cells.
PLATE_X = [0.034, 0.055, 0.076, 0.092, 0.109, 0.126]
PLATE_Z = 0.022
POST_X, BOLT_X = 0.055, 0.109
HORN_SECTIONS = [  # x, height of the centre, half height, half width
    (0.012, 0.0735, 0.0135, 0.0170), (0.035, 0.0733, 0.0138, 0.0168),
    (0.055, 0.0732, 0.0138, 0.0165), (0.075, 0.0734, 0.0132, 0.0158),
    (0.094, 0.0740, 0.0124, 0.0149), (0.113, 0.0751, 0.0115, 0.0138),
    (0.132, 0.0766, 0.0105, 0.0126), (0.151, 0.0784, 0.0095, 0.0113),
    (0.168, 0.0803, 0.0084, 0.0098), (0.180, 0.0818, 0.0068, 0.0077),
    (0.1865, 0.0827, 0.0045, 0.0050),
]


def plate_outline(cage, inwards, height):
    """Rounded rectangle, `inwards` of the plate's outline, one vertex per grid line."""
    x, z = PLATE_HALF_LENGTH - inwards, PLATE_HALF_WIDTH - inwards
    corner = (1 - np.sqrt(0.5)) * (PLATE_CORNER - inwards)
    lines = [-a for a in reversed(PLATE_X)] + [0.0] + PLATE_X
    cross = [-PLATE_Z, 0.0, PLATE_Z]
    points = [(x - corner, -z + corner)] + [(x, c) for c in cross] + [(x - corner, z - corner)]
    points += [(a, z) for a in reversed(lines)] + [(-x + corner, z - corner)]
    points += [(-x, -c) for c in cross] + [(-x + corner, -z + corner)]
    points += [(a, -z) for a in lines]
    return cage.add_ring([(a, height, b) for a, b in points])


def plate_top(cage, rim):
    """Flat grid inside `rim`, with openings for two posts and two bolts; returns the grid."""
    rows, columns = 4, 14
    grid = [[None] * (columns + 1) for _ in range(rows + 1)]
    lines = [-a for a in reversed(PLATE_X)] + [0.0] + PLATE_X
    for j, z in enumerate([-PLATE_Z, 0.0, PLATE_Z], start=1):
        for i, x in enumerate(lines, start=1):
            if not (j == 2 and i in (2, 5, 9, 12)):  # the middle of an opening
                grid[j][i] = cage.add_vertex((x, PLATE_THICKNESS, z))
    # The rim starts at (+x, -z), goes along +x, back along +z, along -x and home along -z.
    for j in range(rows + 1):
        grid[j][columns], grid[j][0] = rim[j], rim[rows + columns + rows - j]
    for i in range(columns + 1):
        grid[rows][i] = rim[rows + columns - i]
        grid[0][i] = rim[(2 * rows + columns + i) % len(rim)]
    openings = {(j, i) for j in (1, 2) for i in (1, 2, 4, 5, 8, 9, 11, 12)}
    transposed = [[grid[j][i] for j in range(rows + 1)] for i in range(columns + 1)]
    skip = {(i, j) for j, i in openings}
    grid_faces(cage, transposed, "plate_top", projected(cage, 0, 2), skip)
    return grid


def opening(grid, column):
    """The eight vertices round an opening two cells wide, whose first column is given."""
    a, b, c = column, column + 1, column + 2
    ring = [(3, c), (2, c), (1, c), (1, b), (1, a), (2, a), (3, a), (3, b)]
    return [grid[j][i] for j, i in ring]


def octagon(x, height, along, across):
    """Eight points round a post, in the order of `opening`; half lengths along x and z."""
    turns = np.pi / 4 - np.arange(8) * np.pi / 4
    return [(x + along * np.cos(t), height, across * np.sin(t)) for t in turns]


def bolt(cage, hole, x):
    """Raised boss with a socket. A flat ring first, so that the 5-poles stay off the boss."""
    top = PLATE_THICKNESS
    profile = [  # radius, height
        (0.0135, top), (0.0118, top), (0.0115, top + 0.0012), (0.0113, top + 0.0042),
        (0.0104, top + 0.0052), (0.0082, top + 0.0052), (0.0072, top + 0.0046),
        (0.0068, top + 0.0018), (0.0062, top + 0.0010),
    ]
    rings = [hole] + [cage.add_ring(octagon(x, y, r, r)) for r, y in profile]
    chart = f"bolt_{'left' if x < 0 else 'right'}"
    flat = projected(cage, 0, 2)
    cage.pen = ("plate", "galvanised_steel", 1)
    sweep(cage, rings[:3], "plate_top", True, flat)
    cage.pen = ("bolts", "stainless_steel", 3)
    sweep(cage, rings[2:], chart, True)
    fill_ring(cage, rings[-1], 2, 2, chart + "_socket", flat)
    return rings


def horn_ring(cage, x, centre, high, wide):
    """Section of the bar: index 0 lowest, then up the +z side and down the other."""
    turns = -np.pi / 2 + np.arange(8) * np.pi / 4
    return cage.add_ring([(x, centre + high * np.sin(t), wide * np.cos(t)) for t in turns])


def horn_bar(cage):
    """The bar from its +x to its -x end, open below where the posts join it."""
    cage.pen = ("horns", "galvanised_steel", 2)
    right = [horn_ring(cage, *section) for section in reversed(HORN_SECTIONS)]
    left = [horn_ring(cage, -x, *rest) for x, *rest in HORN_SECTIONS]
    rings = right + left
    ends = projected(cage, 2, 1)
    fill_ring(cage, rings[0][::-1], 2, 2, "horn_end_right", ends)
    # The seam of the unrolled bar is its lowest line, where nobody looks.
    sweep(cage, rings, "horns", True)
    fill_ring(cage, rings[-1], 2, 2, "horn_end_left", ends)
    return rings


def bar_opening(cage, rings, middle):
    """Take out the four faces under the bar round ring `middle`; returns their outline."""
    plus, mid, minus = rings[middle - 1], rings[middle], rings[middle + 1]
    for ring in (plus, minus):
        for side in (1, 7):
            del cage.faces[face_with(cage, [ring[0], mid[0], mid[side]])]
    return [plus[1], plus[0], plus[7], mid[7], minus[7], minus[0], minus[1], mid[1]]


def post(cage, hole, under, x):
    """A post from the plate's opening to the bar's, with a flat ring and a held foot."""
    top = PLATE_THICKNESS
    profile = [  # height, half length along x, half width
        (top, 0.0192, 0.0178), (top, 0.0172, 0.0152), (top + 0.0025, 0.0160, 0.0138),
        (top + 0.012, 0.0145, 0.0118), (top + 0.024, 0.0140, 0.0110),
        (top + 0.036, 0.0146, 0.0110),
    ]
    rings = [hole] + [cage.add_ring(octagon(x, *section)) for section in profile]
    cage.pen = ("plate", "galvanised_steel", 1)
    sweep(cage, rings[:3], "plate_top", True, projected(cage, 0, 2))
    cage.pen = ("posts", "galvanised_steel", 2)
    sweep(cage, rings[2:] + [under], f"post_{'left' if x < 0 else 'right'}", True)
    return rings


def cleat_form():
    """Base plate with rounded corners, two bolts, two posts, a bar with tapered horns."""
    cage = Cage("cleat")
    cage.pen = ("plate", "galvanised_steel", 1)
    rim = plate_outline(cage, 0.012, PLATE_THICKNESS)
    grid = plate_top(cage, rim)
    # One loop 2.5 mm inside every edge of the plate keeps it crisp.
    shoulder = plate_outline(cage, 0.0025, PLATE_THICKNESS)
    side = [
        plate_outline(cage, 0.0, height)
        for height in (PLATE_THICKNESS, PLATE_THICKNESS - 0.0025, 0.0025, 0.0)
    ]
    sole = plate_outline(cage, 0.0025, 0.0)
    below = plate_outline(cage, 0.012, 0.0)
    flat = projected(cage, 0, 2)
    sweep(cage, [rim, shoulder, side[0]], "plate_top", True, flat)
    sweep(cage, side, "plate_side", True)
    sweep(cage, [side[-1], sole, below], "plate_sole", True, flat)
    underside = fill_ring(cage, below, 4, 14, "plate_sole", flat)
    bolts = [bolt(cage, opening(grid, column), x) for column, x in ((1, -BOLT_X), (11, BOLT_X))]
    bar = horn_bar(cage)
    right = len(HORN_SECTIONS) - 3  # the ring over the post at +x, counted from the +x end
    left = len(HORN_SECTIONS) + 2
    posts = [
        post(cage, opening(grid, column), bar_opening(cage, bar, middle), x)
        for column, middle, x in ((4, left, -POST_X), (8, right, POST_X))
    ]
    parts = dict(grid=grid, shoulder=shoulder, side=side, underside=underside, bolts=bolts,
                 bar=bar, posts=posts)
    return cage, parts


def cleat_oddities(cage, parts):
    under, hole = parts["underside"], parts["posts"][0][0]
    a, b = under[7][2], under[7][3]
    face = cage.faces[dissolve_edge(cage, a, b)]
    slid, next_ring = parts["bar"][-6], parts["bar"][-5]
    for vertex, towards in zip(slid, next_ring):
        slide(cage, vertex, towards, 0.55)
    cage.oddities += [
        Remark(slid, "uneven strips",
               "a loop of the left horn slid along it: the horn runs straight there, so the "
               "surface hardly moves"),
        Remark(face.vertices(), "n-gon", "six-sided, in the middle of the flat underside"),
        Remark([hole[k] for k in (0, 2, 4, 6)], "5-poles",
               "where the left post's flat ring joins the plate's grid, on flat ground"),
        Remark([parts["grid"][j][i] for j in (0, 4) for i in (0, 14)], "3-poles",
               "the corners of the plate's grid, on flat ground inside the support loop"),
    ]


def cleat_faults(cage, parts):
    bar, posts, side, bolts = (parts[k] for k in ("bar", "posts", "side", "bolts"))
    near, far = bar[3], bar[4]
    poles = spin_edge(cage, near[3], far[3])
    cage.faults.append(Remark(
        [near[3], far[3]] + poles, "turned edge: 3-poles and 5-poles on tight curvature",
        "a dent and a ridge side by side near the end of the right horn",
        "turn the edge back"))

    ring = posts[0][5]
    run = ring[0:3]
    copies = rip(cage, run, posts[0][6])
    cage.faults.append(Remark(
        run + copies, "unwelded seam: coincident vertices",
        "a hard line half-way round the left post; it gapes as soon as one side is moved",
        "weld the three pairs"))

    quad = [bolts[1][3][6], bolts[1][3][7], bolts[1][4][7], bolts[1][4][6]]
    flip(cage, quad)
    cage.faults.append(Remark(
        quad, "flipped face", "one dark face on the right bolt's boss; a hole after baking",
        "turn its winding"))

    corner = side[0][4]
    cage.positions[corner] = cage.positions[corner] + [0.0, 0.0045, 0.0]
    cage.faults.append(Remark(
        [corner], "corner vertex lifted: warped quads",
        "the plate's corner at +x, +z curls up", "set its height to the plate's, y = 0.012"))


# --- ship's bell ------------------------------------------------------------------------

BELL_SEGMENTS = 16
CROWN_HEIGHT = 0.232
# Crown grid of 5 x 3 cells (16 edges round); the loop stands on the cells (1, 1) and (1, 3).
CROWN_X, CROWN_Z = [0.0250, 0.0110], 0.0075  # lines of the feet, metres from the middle
LOOP_FOOT_X, LOOP_RISE = 0.0180, 0.012


def bell_ring(cage, radius, height, count=BELL_SEGMENTS, phase=0.0):
    turns = phase + np.arange(count) * 2 * np.pi / count
    return cage.add_ring([(radius * np.cos(t), height, radius * np.sin(t)) for t in turns])


def bell_profile(cage, pairs, phase):
    return [bell_ring(cage, radius, height, phase=phase) for radius, height in pairs]


def bell_form():
    """Crown with its loop, shoulder, waist, moulding, sound bow, lip, inside; the clapper."""
    cage = Cage("bell")
    # Half a step of turn puts the grid's sides square to x and z.
    turn = lambda pairs: bell_profile(cage, pairs, np.pi / BELL_SEGMENTS)
    crown = turn([(0.0400, CROWN_HEIGHT), (0.0480, CROWN_HEIGHT), (0.0510, CROWN_HEIGHT - 0.001)])
    shoulder = turn([
        (0.0520, 0.2285), (0.0535, 0.2240), (0.0600, 0.2180), (0.0680, 0.2090), (0.0735, 0.1960),
    ])
    waist = turn([(0.0775, 0.1740), (0.0803, 0.1490), (0.0840, 0.1230)])
    moulding = turn([  # a raised band, its edges held by loops
        (0.0880, 0.1010), (0.0888, 0.0975), (0.0915, 0.0966), (0.0928, 0.0938),
        (0.0930, 0.0890), (0.0922, 0.0850), (0.0924, 0.0800),
    ])
    flare = turn([(0.0965, 0.0640), (0.1030, 0.0470), (0.1115, 0.0310), (0.1210, 0.0175)])
    lip = turn([
        (0.1262, 0.0105), (0.1280, 0.0060), (0.1270, 0.0018), (0.1230, 0.0), (0.1180, 0.0004),
        (0.1135, 0.0040),
    ])
    outside = crown + shoulder + waist + moulding + flare + lip
    inside = turn([
        (0.1060, 0.0145), (0.0970, 0.0310), (0.0895, 0.0520), (0.0845, 0.0760), (0.0808, 0.1020),
        (0.0775, 0.1290), (0.0742, 0.1560), (0.0695, 0.1800), (0.0600, 0.2010), (0.0440, 0.2140),
        (0.0230, 0.2200),
    ])
    flat = projected(cage, 0, 2)
    cage.pen = ("crown", "bronze", 1)
    sweep(cage, crown[:3], "crown", True, flat)
    cage.pen = ("body", "bronze", 1)
    sweep(cage, (outside + inside)[2 : len(outside)], "outside", True)
    cage.pen = ("inside", "bronze", 1)
    sweep(cage, lip[-1:] + inside, "inside", True)
    bell_dome(cage, inside[-1], flat)
    top = bell_crown_top(cage, crown[0], flat)
    cage.pen = ("clapper", "iron", 2)
    clapper(cage)
    parts = dict(shoulder=shoulder, waist=waist, lip=lip, top=top)
    return cage, parts


def bell_dome(cage, ring, flat):
    """Close the inside with a grid that goes on rising a little, so that the dome is round."""
    first = len(cage.positions)
    turned = ring[-2:] + ring[:-2]  # the grid's corners at 45 degrees
    fill_ring(cage, turned, 4, 4, "dome", flat)
    for k in range(first, len(cage.positions)):
        x, y, z = cage.positions[k]
        cage.positions[k] = np.array([x, y + 0.0016 * (1 - (x * x + z * z) / 0.0230**2), z])


def bell_crown_top(cage, ring, flat):
    """Flat grid over the crown with the hanging loop on two of its cells."""
    cage.pen = ("crown", "bronze", 1)
    # Start so that the five-cell sides lie along x; reversed because the crown opens upwards.
    back = ring[::-1]
    start = next(k for k in range(BELL_SEGMENTS) if _is_grid_start(cage, back, k))
    grid = fill_ring(cage, back[start:] + back[:start], 5, 3, "crown", flat)
    for j in (1, 2):
        for i in range(1, 5):
            vertex = grid[j][i]
            x, _, z = np.sign(cage.positions[vertex])
            line = CROWN_X[0 if i in (1, 4) else 1]
            cage.positions[vertex] = np.array([x * line, CROWN_HEIGHT, z * CROWN_Z])
    cells = [[grid[1][i], grid[1][i + 1], grid[2][i + 1], grid[2][i]] for i in (1, 3)]
    left, right = sorted(cells, key=lambda cell: cage.positions[cell[0]][0])
    bell_loop(cage, left, right)
    return grid


def _is_grid_start(cage, ring, k):
    """Whether the five edges from vertex k of the ring lie square along the +z side."""
    a, b = cage.positions[ring[k]], cage.positions[ring[(k + 5) % len(ring)]]
    return a[2] > 0 and abs(a[2] - b[2]) < 1e-9 and a[0] < b[0]


def bell_loop(cage, left, right):
    """The hanging loop: a square section swept in an arch from one crown cell to the other."""
    for cell in (left, right):
        del cage.faces[face_with(cage, cell)]
    cage.pen = ("loop", "bronze", 2)
    partner = {}
    for vertex in left:  # the arch ends on the mirror image of each vertex it starts from
        image = cage.positions[vertex] * [-1, 1, 1]
        gaps = [np.linalg.norm(cage.positions[v] - image) for v in right]
        partner[vertex] = right[int(np.argmin(gaps))]
    offsets = np.array([cage.positions[v] - [-LOOP_FOOT_X, CROWN_HEIGHT, 0] for v in left])
    rings = [left]
    for rise, thick in ((0.0, 0.86), (0.0025, 0.80), (LOOP_RISE * 0.6, 0.78)):
        rings.append(loop_section(cage, offsets * thick, -LOOP_FOOT_X, 0.0, rise))
    for angle in (0, 30, 60, 90, 120, 150, 180):
        rings.append(loop_section(cage, offsets * 0.78, -LOOP_FOOT_X, np.radians(angle), LOOP_RISE))
    for rise, thick in ((LOOP_RISE * 0.6, 0.78), (0.0025, 0.80), (0.0, 0.86)):
        rings.append(loop_section(cage, offsets * thick, -LOOP_FOOT_X, np.pi, rise))
    rings.append([partner[v] for v in left])
    sweep(cage, rings, "loop", True)


def loop_section(cage, offsets, foot, angle, rise):
    """The foot's section turned by `angle` about the loop's axis, `rise` above the crown."""
    points = []
    for dx, _, dz in offsets:
        reach = abs(foot) - dx
        points.append((-reach * np.cos(angle), CROWN_HEIGHT + rise + reach * np.sin(angle), dz))
    return cage.add_ring(points)


def clapper(cage):
    """A second shell: rod, ball and tail, turned, hanging in the mouth."""
    profile = [
        (0.0045, 0.2255), (0.0062, 0.2220), (0.0062, 0.1550), (0.0068, 0.1000), (0.0082, 0.0640),
        (0.0165, 0.0500), (0.0225, 0.0370), (0.0230, 0.0230), (0.0180, 0.0110), (0.0130, 0.0020),
        (0.0125, -0.0080), (0.0100, -0.0145),
    ]
    rings = [bell_ring(cage, radius, height, count=8) for radius, height in profile]
    flat = projected(cage, 0, 2)
    fill_ring(cage, rings[0][::-1], 2, 2, "clapper_top", flat)
    sweep(cage, rings, "clapper", True)
    end = fill_ring(cage, rings[-1], 2, 2, "clapper_end", flat)
    cage.positions[end[1][1]][1] -= 0.0055  # a rounded end


def bell_oddities(cage, parts):
    top = parts["top"]
    quad = [top[0][2], top[0][3], top[1][3], top[1][2]]
    split_quad(cage, quad)
    cage.oddities += [
        Remark(quad, "two triangles", "on the flat crown, beside the loop"),
        Remark([top[j][i] for j in (1, 2) for i in (1, 2, 3, 4)], "5-poles",
               "round the loop's feet, on the flat crown: the loop has to start somewhere"),
        Remark([top[j][i] for j in (0, -1) for i in (0, -1)], "3-poles",
               "the corners of the crown's grid, on flat ground"),
    ]


def bell_faults(cage, parts):
    shoulder, waist, lip = (parts[k] for k in ("shoulder", "waist", "lip"))
    a, b = shoulder[3][4], shoulder[4][4]
    merged = cage.faces[dissolve_edge(cage, a, b)].vertices()
    cage.faults.append(Remark(
        merged, "n-gon on curved ground", "a dent between two bulges on the shoulder",
        "cut the six-sided face in two from vertex to vertex, along the missing edge"))

    lump = waist[1][13]
    push(cage, lump, 0.0070)
    cage.faults.append(Remark(
        [lump], "vertex pushed off the form", "a lump on the waist",
        "relax it between its neighbours"))

    run = shoulder[3][10:13]
    for vertex, towards in zip(run, shoulder[4][10:13]):
        slide(cage, vertex, towards, 0.72)
    cage.faults.append(Remark(
        run, "uneven strip on curved ground",
        "the shoulder goes flat where one strip is several times as wide as the next",
        "slide the loop back so that both strips are equally wide"))

    ends = [loop[k] for loop in lip[:2] for k in (0, 3)]
    for loop in lip[:2]:
        dissolve_loop(cage, loop, 1, 2)
    cage.faults.append(Remark(
        ends + lip[2][0:4], "support loops missing for part of the edge",
        "the lip loses its round bulge and thins between the two six-sided faces where the loops "
        "stop", "cut both loops through again"))


# --- crate: clean ------------------------------------------------------------------------

CRATE_HOLD = 0.012  # distance of the loops that hold the crate's upright edges


def crate_ring(cage, half, height):
    """Square of half width `half`: each corner has a support vertex on both its sides."""
    inner = half - CRATE_HOLD
    side = [(half, half), (half, inner), (half, -inner)]  # runs from +z to -z at +x
    points = []
    for turn in range(4):
        c, s = [(1, 0), (0, 1), (-1, 0), (0, -1)][turn]
        points += [(x * c + z * s, height, z * c - x * s) for x, z in side]
    return cage.add_ring(np.round(points, 9))


def groove(height):
    """Profile of the gap between two planks: a V, and a loop on either side to hold it."""
    return [(0.250, height - 0.012), (0.250, height - 0.005), (0.241, height),
            (0.250, height + 0.005), (0.250, height + 0.012)]


def crate_form():
    """Three courses of planks and a lid that stands over them."""
    cage = Cage("crate")
    ring = lambda pairs: [crate_ring(cage, half, height) for half, height in pairs]
    flat = projected(cage, 0, 2)
    bottom = ring([(0.242, 0.0), (0.250, 0.0)])
    walls = ring([(0.250, 0.008)] + groove(0.135) + groove(0.265) + [(0.250, 0.392)])
    lid = ring([
        (0.250, 0.400), (0.262, 0.400), (0.268, 0.400), (0.268, 0.406), (0.268, 0.426),
        (0.268, 0.432), (0.260, 0.432),
    ])
    cage.pen = ("planks", "deal", 1)
    fill_ring(cage, bottom[0][::-1], 3, 3, "bottom", flat)
    sweep(cage, bottom, "bottom", True, flat)
    sweep(cage, bottom[1:] + walls + lid[:1], "walls", True)
    cage.pen = ("lid", "deal", 2)
    sweep(cage, lid[:6], "lid_edge", True)
    sweep(cage, lid[5:], "lid_top", True, flat)
    fill_ring(cage, lid[-1], 3, 3, "lid_top", flat)
    return cage, {}


def leave_alone(cage, parts):
    """The crate has neither oddities nor mistakes."""


# --- all of them -------------------------------------------------------------------------

CAGES = {
    "cowl": ("Ventilator cowl: the half x >= 0, to be mirrored across x = 0",
             cowl_form, cowl_oddities, cowl_faults),
    "cleat": ("Mooring cleat", cleat_form, cleat_oddities, cleat_faults),
    "bell": ("Ship's bell with its clapper", bell_form, bell_oddities, bell_faults),
    "crate": ("Crate of planks", crate_form, leave_alone, leave_alone),
}


def build(name, odd=True, wrong=True):
    """Model a cage; `odd` and `wrong` say whether to add its oddities and its mistakes."""
    _, form, oddities, faults = CAGES[name]
    cage, parts = form()
    if odd:
        oddities(cage, parts)
    if wrong:
        faults(cage, parts)
    drop_unused(cage)
    pack_charts(cage)
    return cage


def table(head, rows):
    lines = ["| " + " | ".join(cells) + " |" for cells in [head] + rows]
    return [lines[0], "|" + "---|" * len(head)] + lines[1:]


def numbers(remark):
    return ", ".join(str(v + 1) for v in remark.vertices)


def readme_tables(cage):
    """What README.md says of a cage that depends on its numbering."""
    facts = survey(cage)
    counted = ", ".join(f"{what} {count}" for what, count in facts.items() if count)
    lines = [f"Counts: {counted}."]
    if cage.faults:
        rows = [[numbers(r), r.kind, r.seen, r.mend] for r in cage.faults]
        lines += ["", "Wrong:", ""]
        lines += table(["Vertices", "Fault", "Seen after smoothing", "Mend"], rows)
    if cage.oddities:
        rows = [[numbers(r), r.kind, r.seen] for r in cage.oddities]
        lines += ["", "Odd but harmless:", ""]
        lines += table(["Vertices", "What", "Where, and why it does no harm"], rows)
    return "\n".join(lines)


def put_between(text, start, end, new):
    """Replace what stands between the two marks, which stay."""
    before, rest = text.split(start, 1)
    return before + start + "\n" + new + "\n" + end + rest.split(end, 1)[1]


def main():
    readme = (HERE / "README.md").read_text()
    for name, (title, *_) in CAGES.items():
        cage = build(name)
        (HERE / f"{name}.obj").write_text(obj_text(cage, title))
        facts = readme_tables(cage)
        readme = put_between(readme, f"<!-- {name}: from model_cages.py -->", "<!-- end -->", facts)
        print(f"{name}: {facts.splitlines()[0]}")
    (HERE / "README.md").write_text(readme)


if __name__ == "__main__":
    main()
