"""The flat does not change with how a part lies in space, nor with the order of its faces, nor the start face.

Compared as they are, without turning one onto the other: root, near face, x direction and letters follow from the
geometry alone. Expected values: the flat of the same part untouched (self), whose truth other tests look after.
"""

from __future__ import annotations

import math
import random
import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from flatgen.core.flat_pattern import FlatPattern, Matrix
from tests.unfolding import flats_alike
from tests.unfolding.flats_of_authors import K_OF, REAL, solids_of, unfolded
from tests.unfolding.tree_solids import placed
from tests.unfolding.trees import grown_tree

USUAL = ["tree 2", "tree 3", "tree 5", "tree 12", "openamr_motor_bracket", "rover6_wheel_support_bracket"]
MORE = [f"tree {n}" for n in (4, 6, 7, 14, 15, 22)] + [part for part in K_OF if part not in USUAL]
ALL = USUAL + [pytest.param(name, marks=pytest.mark.thorough) for name in MORE]


@cache
def _part(name: str) -> tuple[Any, float]:
    """The solid, and the K that it is developed with."""
    if name.startswith("tree"):
        tree, solid = grown_tree(int(name.split()[1]))
        return solid, tree.k
    if not REAL.is_dir():
        pytest.skip("the real parts do not stand beside this repository")
    (solid,) = solids_of(REAL / f"{name}.step")
    return solid, K_OF[name]


@cache
def _flat(name: str) -> FlatPattern:
    flat: FlatPattern = unfolded(*_part(name)).flat
    return flat


def _within(name: str) -> float:
    """Trees are built to the last digit; files carry their corners to some microns."""
    return 1e-6 if name.startswith("tree") else 2e-3


def difference(one: FlatPattern, two: FlatPattern) -> float:
    """The largest deviation of all that a drawing shows, as both lie; infinite where letters or ways differ."""
    if (one.outline_difference is None) != (two.outline_difference is None):
        return math.inf
    a, b = (flats_alike.from_pattern(f, 0.0) for f in (one, two))
    if any(kinds != others for _, kinds, others in flats_alike.counts(a, b)):
        return math.inf
    letters = [_letters(f) for f in (one, two)]
    if [label for label, _ in letters[0]] != [label for label, _ in letters[1]]:
        return math.inf
    gaps = [flats_alike.deviations(a, b)]
    by_letter = [
        flats_alike.bends_apart(a.bends[n], b.bends[m], n)
        for (_, n), (_, m) in zip(letters[0], letters[1], strict=True)
    ]
    return max(gap for gap, _ in (*gaps[0], *by_letter))


def _letters(flat: FlatPattern) -> list[tuple[str, int]]:
    return sorted((b.label, n) for n, b in enumerate(flat.bends))


def _same(name: str, solid: Any) -> None:
    other = unfolded(solid, _part(name)[1]).flat
    assert difference(other, _flat(name)) < _within(name)


@pytest.mark.parametrize("name", ALL)
def test_letters_are_all_there(name: str) -> None:
    letters = [b.label for b in _flat(name).bends]
    assert all(letters)
    assert len(set(letters)) == len(letters)


@pytest.mark.parametrize("name", ALL)
def test_flat_does_not_change_with_the_place_in_space(name: str) -> None:
    solid, _ = _part(name)
    rng = random.Random(f"place {name}")
    for _ in range(2):
        _same(name, placed(solid, _move(rng)))


def _move(rng: random.Random) -> Matrix:
    """A random turn and shift (4 x 4): any three directions made square to one another, right-handed."""
    axes, _ = np.linalg.qr(np.array([[rng.gauss(0, 1) for _ in range(3)] for _ in range(3)]))
    move = np.eye(4)
    move[:3, :3] = axes * np.sign(np.linalg.det(axes))
    move[:3, 3] = [rng.uniform(-500, 500) for _ in range(3)]
    return move


@pytest.mark.parametrize("name", ALL)
def test_flat_does_not_change_with_the_order_of_faces(name: str) -> None:
    """Order of faces decides which face a walk begins with, too: none may matter."""
    solid, _ = _part(name)
    rng = random.Random(f"order {name}")
    for _ in range(2):
        _same(name, shuffled(solid, rng))


@pytest.mark.parametrize("name", ALL)
def test_flat_does_not_change_with_the_start_face(name: str) -> None:
    """The smallest faces first, then the largest first: skins begin the walk, then walls."""
    solid, _ = _part(name)
    for sign in (1, -1):
        _same(name, _ordered(solid, sorted(solid.Faces(), key=lambda f: sign * f.Area())))


@pytest.mark.parametrize("part", ["openamr_motor_bracket", "openamr_support"])
def test_flat_does_not_change_with_the_order_in_the_file(part: str, tmp_path: Path) -> None:
    """Entities of the STEP text in any order, and the faces of the shell listed in any order."""
    solid, k = _part(part)
    rng = random.Random(f"text {part}")
    head, data, tail = re.split(r"(?<=DATA;)|(?=ENDSEC;\s*END-ISO)", (REAL / f"{part}.step").read_text("latin-1"))
    entities = [e.strip() for e in data.split(";\n") if e.strip()]
    rng.shuffle(entities)
    text = ";\n".join(_faces_shuffled(e, rng) for e in entities)
    path = tmp_path / "other.step"
    path.write_text(f"{head}\n{text};\n{tail}", encoding="latin-1")
    (again,) = solids_of(path)
    assert again.Volume() == pytest.approx(solid.Volume(), rel=1e-9)
    assert [round(f.Area(), 6) for f in again.Faces()] != [round(f.Area(), 6) for f in solid.Faces()]
    assert difference(unfolded(again, k).flat, _flat(part)) < 2e-3


def _faces_shuffled(entity: str, rng: random.Random) -> str:
    if "CLOSED_SHELL" not in entity:
        return entity
    start, listed, end = re.split(r"(?<=,)\s*\(|\)", entity, maxsplit=2)
    faces = listed.split(",")
    rng.shuffle(faces)
    return f"{start}({','.join(faces)}){end}"


def shuffled(solid: Any, rng: random.Random) -> Any:
    """The same faces in another order."""
    faces = list(solid.Faces())
    rng.shuffle(faces)
    return _ordered(solid, faces)


def _ordered(solid: Any, faces: list[Any]) -> Any:
    import cadquery as cq
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Shell, TopoDS_Solid

    builder, shell, made = BRep_Builder(), TopoDS_Shell(), TopoDS_Solid()
    builder.MakeShell(shell)
    for face in faces:
        builder.Add(shell, face.wrapped)
    shell.Closed(True)
    builder.MakeSolid(made)
    builder.Add(made, shell)
    again = cq.Solid(made)
    assert again.Volume() == pytest.approx(solid.Volume(), rel=1e-12)
    assert len(again.Faces()) == len(faces)
    return again


# -- the comparison can fail, the shuffling shuffles -----------------------------------------------------------------


def test_shuffling_changes_the_order_of_faces() -> None:
    solid, _ = _part("tree 3")
    areas = [f.Area() for f in solid.Faces()]
    other = [f.Area() for f in shuffled(solid, random.Random(1)).Faces()]
    assert areas != other
    assert sorted(areas) == pytest.approx(sorted(other))


@pytest.mark.parametrize("name", ["tree 3", "tree 5"])
def test_comparison_sees_a_turn_a_shift_and_letters_exchanged(name: str) -> None:
    flat = _flat(name)
    assert difference(flat, flat) == 0.0
    turn = np.diag([-1.0, -1.0, 1.0])
    turn[:2, 2] = [flat.box[2], flat.box[3]]
    assert difference(flat.moved(turn), flat) > 0.1
    shift = np.eye(3)
    shift[0, 2] = 1e-5
    assert 5e-6 < difference(flat.moved(shift), flat) < 2e-5
    first, second, *others = flat.bends
    exchanged = (replace(first, label=second.label), replace(second, label=first.label), *others)
    assert difference(flat.with_bends(exchanged), flat) > 0.1
