#!/usr/bin/env python3
"""Largest distance between the refined positions of OpenSubdiv and of CGAL, over all common cages.

    compare_references.py OPENSUBDIV_FOLDER CGAL_FOLDER

Both folders must have been written with --every-row. Vertices are numbered differently, so they are
matched by position: each goes to the nearest of the other library's vertices of that level, and no
vertex may be taken twice.
"""
import csv
import sys
from collections import defaultdict
from math import dist, floor
from pathlib import Path

CELL = 1e-6  # far above rounding, far below the distance of two vertices of the cages


def levels(path):
    points = defaultdict(list)
    with open(path, newline="") as file:
        for row in csv.DictReader(file):
            points[int(row["level"])].append(tuple(float(row[k]) for k in "xyz"))
    return points


def largest_distance(a, b):
    if len(a) != len(b):
        sys.exit(f"vertex counts differ: {len(a)} and {len(b)}")
    cells = defaultdict(list)
    for p in b:
        cells[tuple(floor(x / CELL) for x in p)].append(p)
    worst = 0.0
    for p in a:
        at = [floor(x / CELL) for x in p]
        near = [
            (dist(p, q), key, q)
            for i in (-1, 0, 1)
            for j in (-1, 0, 1)
            for k in (-1, 0, 1)
            for key in [(at[0] + i, at[1] + j, at[2] + k)]
            for q in cells.get(key, ())
        ]
        if not near:
            sys.exit(f"no vertex near {p}")
        d, key, q = min(near)
        cells[key].remove(q)
        worst = max(worst, d)
    return worst


def main():
    opensubdiv, cgal = Path(sys.argv[1]), Path(sys.argv[2])
    worst, count = (0.0, "", 0), 0
    for path in sorted(cgal.glob("*.csv")):
        other = opensubdiv / f"{path.stem}.edge-only.csv"
        if not other.exists():  # both boundary rules agree on this cage
            other = opensubdiv / path.name
        ours, theirs = levels(path), levels(other)
        for level, points in ours.items():
            worst = max(worst, (largest_distance(points, theirs[level]), path.stem, level))
            count += len(points)
    print(f"OpenSubdiv and CGAL: {count} vertices, largest distance {worst[0]:.3g} ({worst[1]}, level {worst[2]})")


main()
