#!/usr/bin/env python3
"""Writes reference-data/eigenvalues.csv to standard output: eigenvalues of the Catmull-Clark one-ring
by valence, from the closed form, and the growth ratios of curvature. Needs numpy.

The closed form was written from memory and is confirmed here by a numerical eigen-decomposition of
the subdivision matrix, which is built from the rules of 1978 alone. The growth ratios are
mu / lambda^2, mu being the largest eigenvalue of the quadratic modes: of the rotation-free (cup)
block beside 1, and of the frequency-2 (saddle) block.
"""
import sys

import numpy as np

AGREE = 1e-12


def subdivision_matrix(n):
    """Matrix taking vertex, n edge neighbours and n face corners to those of the next level."""
    m = np.zeros((2 * n + 1, 2 * n + 1))

    def e(i):
        return 1 + i % n

    def f(i):
        return 1 + n + i % n

    face = np.zeros((n, 2 * n + 1))  # face i lies between edges i and i + 1
    for i in range(n):
        for j in (0, e(i), f(i), e(i + 1)):
            face[i, j] = 0.25
    for i in range(n):
        m[f(i)] = face[i]
        m[e(i)] = (face[i] + face[(i - 1) % n]) / 4
        m[e(i), 0] += 0.25
        m[e(i), e(i)] += 0.25
    # vertex point (F + 2 R + (n - 3) v) / n, R the mean of the edge midpoints
    m[0] = face.mean(axis=0) / n
    m[0, 0] += (1 + (n - 3)) / n
    for i in range(n):
        m[0, e(i)] += 1 / n**2
    return m


def frequency(vector, n):
    """Angular frequency of an eigenvector, from the edge neighbours and face corners."""
    spectrum = np.abs(np.fft.fft(vector[1 : n + 1])) + np.abs(np.fft.fft(vector[n + 1 :]))
    k = int(np.argmax(spectrum))
    return min(k, n - k)


def largest_of_frequency(n, k, below):
    """Largest eigenvalue of one angular frequency, of those under `below`."""
    values, vectors = np.linalg.eig(subdivision_matrix(n))
    found = [v.real for v, w in zip(values, vectors.T) if frequency(w, n) == k and v.real < below]
    return max(found)


def closed_form(n, k, sign=1):
    """The two eigenvalues of angular frequency k > 0; lambda is k = 1 with the plus sign."""
    c = np.cos(2 * np.pi * k / n)
    return (5 + c + sign * np.cos(np.pi * k / n) * np.sqrt(2 * (9 + c))) / 16


def closed_form_cup(n):
    """The larger rotation-free eigenvalue beside 1."""
    a, b = 1 - 7 / (4 * n), 3 / (2 * n)
    return (4 * a - 1 + np.sqrt((4 * a - 1) ** 2 + 8 * b - 4)) / 8


def confirmed(n, name, closed, numerical):
    if abs(closed - numerical) > AGREE:
        sys.exit(f"valence {n}, {name}: closed form {closed}, eigen-decomposition {numerical}")
    return closed


def main():
    print("# Catmull-Clark one-ring at an interior vertex: subdominant eigenvalue lambda by valence, and the")
    print("# growth of curvature per level towards the vertex, mu / lambda^2, for the cup and the saddle mode.")
    print("# Source: closed form, Ball & Storry 1988; Peters & Reif, Subdivision Surfaces, 2008;")
    print("# from memory, confirmed by a numerical eigen-decomposition (tests/reference/eigenvalues.py).")
    print("valence,lambda,cup_ratio,saddle_ratio")
    for n in range(3, 13):
        subdominant = confirmed(n, "lambda", closed_form(n, 1), largest_of_frequency(n, 1, 1.0))
        cup = confirmed(n, "cup", closed_form_cup(n), largest_of_frequency(n, 0, 1 - 1e-9))
        if n == 3:  # frequency 2 is frequency -1 here: the saddle is the second mode of frequency 1
            closed, numerical = closed_form(n, 1, -1), largest_of_frequency(n, 1, subdominant - 1e-9)
        else:
            closed, numerical = closed_form(n, 2), largest_of_frequency(n, 2, 1.0)
        saddle = confirmed(n, "saddle", closed, numerical)
        print(f"{n},{subdominant:.17g},{cup / subdominant**2:.17g},{saddle / subdominant**2:.17g}")


main()
