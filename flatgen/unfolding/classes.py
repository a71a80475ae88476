"""Faces that lie on one plane or one axis, found by sorting: time grows as n log n with their number."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from flatgen.unfolding.sheet import Vector

Labels = NDArray[np.intp]


def classes(rows: Vector, tolerances: Vector) -> Labels:
    """A class number for every row; rows that differ by less than the tolerance in every column are of one class.

    Parameters
    ----------
    rows : (n, k)
    tolerances : (k,)

    Returns
    -------
    (n,) from 0
    """
    count = len(rows)
    labels = np.zeros(count, dtype=np.intp)
    if count == 0:
        return labels
    before = 0
    while (found := int(labels.max()) + 1) > before:
        before = found
        for column, tolerance in zip(rows.T, tolerances, strict=True):
            order = np.lexsort((column, labels))
            apart = np.diff(labels[order]) != 0
            apart |= np.diff(column[order]) > tolerance
            labels[order] = np.concatenate(([0], np.cumsum(apart)))
    return labels


def line_rows(origins: Vector, directions: Vector) -> Vector:
    """What two lines in space that are one agree in, whichever way they run: (n, 9).

    Parameters
    ----------
    origins, directions : (n, 3), directions of unit length
    """
    along = (origins * directions).sum(axis=1)[:, None]
    feet = origins - directions * along
    products = directions[:, :, None] * directions[:, None, :]
    i, j = np.triu_indices(3)
    rows: Vector = np.hstack((feet, products[:, i, j]))
    return rows


def plane_rows(origins: Vector, normals: Vector) -> Vector:
    """What two planes that are one, and look the same way, agree in: (n, 4)."""
    rows: Vector = np.hstack((normals, (origins * normals).sum(axis=1)[:, None]))
    return rows
