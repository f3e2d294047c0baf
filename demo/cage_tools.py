"""Tools for modelling small polygon cages with numpy: rings, strips, caps, edits, OBJ.

Conventions: Y up, metres. A face's corners run counter-clockwise seen from outside.
A strip between two rings faces outwards when (direction of the ring) x (direction from
the first ring to the second) points out of the solid.
"""

from dataclasses import dataclass, field

import numpy as np

POSITION_DECIMALS = 5  # 0.01 mm: finer than any modeller's grid
UV_DECIMALS = 5
CHART_GAP = 0.02  # metres of empty texture kept between two charts


@dataclass
class Face:
    """A polygon: corners are (vertex number from 0, (u, v) in metres of its chart)."""

    corners: list
    chart: str
    group: str
    material: str
    smoothing: int

    def vertices(self):
        return [vertex for vertex, _ in self.corners]

    def like(self, corners):
        """A face with other corners and this one's chart, group, material and smoothing."""
        return Face(corners, self.chart, self.group, self.material, self.smoothing)


@dataclass
class Remark:
    """Something wrong (or odd but harmless), at the vertices named."""

    vertices: list
    kind: str
    seen: str
    mend: str = ""


@dataclass
class Cage:
    """Vertices, faces and remarks. New faces take the pen's group, material, smoothing."""

    name: str
    positions: list = field(default_factory=list)
    faces: list = field(default_factory=list)
    faults: list = field(default_factory=list)
    oddities: list = field(default_factory=list)
    pen: tuple = ("body", "default", 1)

    def add_vertex(self, position):
        self.positions.append(np.asarray(position, dtype=float))
        return len(self.positions) - 1

    def add_ring(self, points):
        return [self.add_vertex(point) for point in points]

    def add_face(self, vertices, uvs, chart):
        group, material, smoothing = self.pen
        corners = [(v, (float(a), float(b))) for v, (a, b) in zip(vertices, uvs)]
        self.faces.append(Face(corners, chart, group, material, smoothing))


# --- laying texture coordinates -------------------------------------------------------


def projected(cage, across, up):
    """UVs by looking at the vertex along one axis; `across` and `up` are axis numbers."""
    return lambda vertex: (cage.positions[vertex][across], cage.positions[vertex][up])


def unrolled(cage, rings, closed):
    """UVs of a tube slit open: u is mean arc length round it, v mean length along it."""
    points = [np.array([cage.positions[v] for v in ring]) for ring in rings]
    steps = np.mean([_edge_lengths(p, closed) for p in points], axis=0)
    u = np.concatenate([[0.0], np.cumsum(steps)])
    rises = [np.linalg.norm(b - a, axis=1).mean() for a, b in zip(points, points[1:])]
    v = np.concatenate([[0.0], np.cumsum(rises)])
    return lambda ring, index: (u[index], v[ring])


def _edge_lengths(points, closed):
    follow = np.roll(points, -1, axis=0) if closed else points[1:]
    return np.linalg.norm(follow - points[: len(follow)], axis=1)


def pack_charts(cage):
    """Set the charts side by side on shelves and scale the whole to the unit square."""
    _face_charts_up(cage)
    boxes = {}
    for face in cage.faces:
        uvs = np.array([uv for _, uv in face.corners])
        low, high = boxes.get(face.chart, (uvs.min(0), uvs.max(0)))
        boxes[face.chart] = (np.minimum(low, uvs.min(0)), np.maximum(high, uvs.max(0)))
    sizes = {chart: high - low for chart, (low, high) in boxes.items()}
    area = sum(np.prod(size + CHART_GAP) for size in sizes.values())
    width = max(1.15 * np.sqrt(area), max(size[0] for size in sizes.values()) + CHART_GAP)
    places, x, y, shelf = {}, 0.0, 0.0, 0.0
    for chart in sorted(sizes, key=lambda c: (-sizes[c][1], c)):
        if x + sizes[chart][0] + CHART_GAP > width:
            x, y, shelf = 0.0, y + shelf, 0.0
        places[chart] = np.array([x, y]) + CHART_GAP / 2 - boxes[chart][0]
        x += sizes[chart][0] + CHART_GAP
        shelf = max(shelf, sizes[chart][1] + CHART_GAP)
    scale = 1.0 / max(width, y + shelf)
    for face in cage.faces:
        face.corners = [
            (v, tuple((np.array(uv) + places[face.chart]) * scale)) for v, uv in face.corners
        ]


def _face_charts_up(cage):
    """Mirror the charts that were projected from behind, so that no lettering runs backwards."""
    areas = {}
    for face in cage.faces:
        u, v = np.array([uv for _, uv in face.corners]).T
        area = (u * np.roll(v, -1) - np.roll(u, -1) * v).sum() / 2
        areas[face.chart] = areas.get(face.chart, 0.0) + area
    for face in cage.faces:
        if areas[face.chart] < 0:
            face.corners = [(vertex, (-u, v)) for vertex, (u, v) in face.corners]


# --- strips and caps ------------------------------------------------------------------


def bridge(cage, lower, upper, chart, uv_lower, uv_upper, closed, skip=()):
    """Quads between two rings of equal count; `skip` leaves out columns (for openings)."""
    count = len(lower)
    for i in range(count if closed else count - 1):
        if i in skip:
            continue
        j = (i + 1) % count
        vertices = [lower[i], lower[j], upper[j], upper[i]]
        # The last column of a closed tube ends at index `count` in texture space: its seam.
        cage.add_face(
            vertices, [uv_lower(i), uv_lower(i + 1), uv_upper(i + 1), uv_upper(i)], chart
        )


def sweep(cage, rings, chart, closed, uv=None):
    """Bridge each ring to the next. `uv` maps a vertex; without it the tube is unrolled."""
    slit = unrolled(cage, rings, closed)
    for k, (lower, upper) in enumerate(zip(rings, rings[1:])):
        if uv is None:
            at_lower, at_upper = (lambda i, k=k: slit(k, i)), (lambda i, k=k: slit(k + 1, i))
        else:
            at_lower = lambda i, ring=lower: uv(ring[i % len(ring)])
            at_upper = lambda i, ring=upper: uv(ring[i % len(ring)])
        bridge(cage, lower, upper, chart, at_lower, at_upper, closed)


def fill_sides(cage, south, east, north, west, chart, uv):
    """Fill a four-sided opening with a grid of quads; returns the grid of vertices.

    south and north run from west to east, west and east from south to north; inner vertices
    are the bilinear Coons blend of the four sides (Coons 1967).
    """
    at = lambda ring, i: cage.positions[ring[i]]
    columns, rows = len(south) - 1, len(west) - 1
    grid = [[None] * (columns + 1) for _ in range(rows + 1)]
    for j in range(rows + 1):
        for i in range(columns + 1):
            s, t = i / columns, j / rows
            if j in (0, rows):
                grid[j][i] = south[i] if j == 0 else north[i]
            elif i in (0, columns):
                grid[j][i] = west[j] if i == 0 else east[j]
            else:
                ruled = (1 - t) * at(south, i) + t * at(north, i)
                ruled = ruled + (1 - s) * at(west, j) + s * at(east, j)
                corners = (1 - s) * (1 - t) * at(south, 0) + s * (1 - t) * at(south, -1)
                corners = corners + (1 - s) * t * at(north, 0) + s * t * at(north, -1)
                grid[j][i] = cage.add_vertex(ruled - corners)
    grid_faces(cage, grid, chart, uv)
    return grid


def grid_faces(cage, grid, chart, uv, skip=()):
    """Quads of a grid given as rows of vertices; `skip` holds (row, column) left open."""
    for j in range(len(grid) - 1):
        for i in range(len(grid[0]) - 1):
            if (j, i) not in skip:
                quad = [grid[j][i], grid[j][i + 1], grid[j + 1][i + 1], grid[j + 1][i]]
                cage.add_face(quad, [uv(v) for v in quad], chart)


def fill_ring(cage, ring, columns, rows, chart, uv):
    """Close a ring of 2 * (columns + rows) vertices with a grid: no high-valence centre."""
    turn = ring + ring[:1]
    south, east = turn[: columns + 1], turn[columns : columns + rows + 1]
    north = turn[columns + rows : 2 * columns + rows + 1][::-1]
    west = turn[2 * columns + rows :][::-1]
    return fill_sides(cage, south, east, north, west, chart, uv)


# --- edits: what a modeller does by hand, and by mistake ---------------------------------


def face_with(cage, vertices):
    """Number of the one face that has all these vertices."""
    wanted = set(vertices)
    found = [k for k, face in enumerate(cage.faces) if wanted <= set(face.vertices())]
    if len(found) != 1:
        raise ValueError(f"{cage.name}: {len(found)} faces have vertices {sorted(wanted)}")
    return found[0]


def split_quad(cage, vertices):
    """Cut a quad into two triangles along its first diagonal."""
    k = face_with(cage, vertices)
    a, b, c, d = cage.faces[k].corners
    cage.faces[k : k + 1] = [cage.faces[k].like([a, b, c]), cage.faces[k].like([a, c, d])]


def dissolve_edge(cage, a, b):
    """Merge the two faces at an edge into one polygon; returns its number."""
    first, second = sorted(_faces_at_edge(cage, a, b))
    left = _turned(cage.faces[first].corners, a, b)
    right = _turned(cage.faces[second].corners, a, b)
    cage.faces[first].corners = left + right[1:-1]
    del cage.faces[second]
    return first


def spin_edge(cage, a, b):
    """Turn the edge between two quads one corner on: two 3-poles and two 5-poles."""
    k = dissolve_edge(cage, a, b)
    corners = cage.faces[k].corners
    first, second = corners[1:5], corners[4:] + corners[:2]
    cage.faces[k : k + 1] = [cage.faces[k].like(first), cage.faces[k].like(second)]
    return [corner[0] for corner in (corners[1], corners[4])]


def _faces_at_edge(cage, a, b):
    return [k for k, face in enumerate(cage.faces) if {a, b} <= set(face.vertices())]


def _turned(corners, a, b):
    """Corners turned so that the edge a-b (either way round) joins the last to the first."""
    for k in range(len(corners)):
        if {corners[k - 1][0], corners[k][0]} == {a, b}:
            return corners[k:] + corners[:k]
    raise ValueError(f"no edge {a}-{b}")


def dissolve_loop(cage, ring, first, last):
    """Remove the loop's vertices first..last: the strips on its two sides become one."""
    for k in range(first - 1, last + 1):
        dissolve_edge(cage, ring[k], ring[k + 1])
    gone = set(ring[first : last + 1])
    for face in cage.faces:
        face.corners = [corner for corner in face.corners if corner[0] not in gone]


def collapse(cage, vertex, onto):
    """Weld a vertex onto a neighbour: the quads on both sides of the edge become triangles."""
    kept = next(uv for face in cage.faces for v, uv in face.corners if v == onto)
    for face in cage.faces:
        if onto in face.vertices():
            face.corners = [corner for corner in face.corners if corner[0] != vertex]
        face.corners = [(onto, kept) if v == vertex else (v, uv) for v, uv in face.corners]


def slide(cage, vertex, towards, share):
    """Move a vertex along the straight line to another by a share of the distance."""
    a, b = cage.positions[vertex], cage.positions[towards]
    cage.positions[vertex] = a + share * (b - a)


def push(cage, vertex, distance):
    """Move a vertex along its normal (mean of its faces' area vectors); metres, + is out."""
    normal = np.zeros(3)
    for face in cage.faces:
        if vertex in face.vertices():
            p = np.array([cage.positions[v] for v in face.vertices()])
            normal += np.cross(p, np.roll(p, -1, axis=0)).sum(0) / 2
    cage.positions[vertex] = cage.positions[vertex] + distance * normal / np.linalg.norm(normal)


def rip(cage, run, side):
    """Unweld the vertices of `run`: faces that also touch `side` get copies of their own."""
    copies = {v: cage.add_vertex(cage.positions[v]) for v in run}
    for face in cage.faces:
        if set(face.vertices()) & set(side):
            face.corners = [(copies.get(v, v), uv) for v, uv in face.corners]
    return [copies[v] for v in run]


def flip(cage, vertices):
    """Turn one face inside out."""
    face = cage.faces[face_with(cage, vertices)]
    face.corners = face.corners[::-1]


# --- counting what is there -------------------------------------------------------------


def survey(cage):
    """Counts of elements, and of what only a mistake can cause."""
    sides = [len(face.corners) for face in cage.faces]
    uses, ways = {}, {}
    for face in cage.faces:
        turn = face.vertices()
        for a, b in zip(turn, turn[1:] + turn[:1]):
            uses[frozenset((a, b))] = uses.get(frozenset((a, b)), 0) + 1
            ways[(a, b)] = ways.get((a, b), 0) + 1
    places = {tuple(np.round(p, POSITION_DECIMALS)) for p in cage.positions}
    return {
        "vertices": len(cage.positions),
        "faces": len(sides),
        "quads": sides.count(4),
        "triangles": sides.count(3),
        "n-gons": sum(count > 4 for count in sides),
        "border edges": sum(count == 1 for count in uses.values()),
        "edges of three or more faces": sum(count > 2 for count in uses.values()),
        "edges run through twice the same way": sum(count > 1 for count in ways.values()),
        "coincident vertices": len(cage.positions) - len(places),
    }


# --- writing --------------------------------------------------------------------------


def drop_unused(cage):
    """Renumber after dissolving, so that every vertex of the file is used."""
    used = sorted({v for face in cage.faces for v in face.vertices()})
    new = {old: k for k, old in enumerate(used)}
    cage.positions = [cage.positions[old] for old in used]
    for face in cage.faces:
        face.corners = [(new[v], uv) for v, uv in face.corners]
    for remark in cage.faults + cage.oddities:
        remark.vertices = [new[v] for v in remark.vertices if v in new]


def _number(value, decimals):
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def obj_text(cage, title):
    """The cage as OBJ text: one object, numbers from 1, shared texture points written once."""
    lines = [f"# {title}", "# metres, Y up", f"o {cage.name}"]
    for p in cage.positions:
        lines.append("v " + " ".join(_number(x, POSITION_DECIMALS) for x in p))
    table, body, state = {}, [], (None, None, None)
    for face in cage.faces:
        now = (face.group, face.material, face.smoothing)
        for key, old, new in zip(("g", "usemtl", "s"), state, now):
            if old != new:
                body.append(f"{key} {new}")
        state = now
        words = []
        for vertex, uv in face.corners:
            key = " ".join(_number(x, UV_DECIMALS) for x in uv)
            words.append(f"{vertex + 1}/{table.setdefault(key, len(table) + 1)}")
        body.append("f " + " ".join(words))
    return "\n".join(lines + [f"vt {key}" for key in table] + body) + "\n"
