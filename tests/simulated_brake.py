"""A leaf brake simulated by plane geometry alone, its sheet, and what its worker writes down; knows no model.

The rail of the roll-off roof is bent on it: a definition and a shop file in a folder of their own, and a log.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from flatgen.brake.read_shop import read_shop
from flatgen.jobs.draw import metals_beside
from flatgen.jobs.plan import plan
from flatgen.paper.strip_sheets.form_text import form_text
from flatgen.strips.cut import cut_strip
from flatgen.strips.form import read_form
from flatgen.strips.log import append
from flatgen.strips.reading import StripReading
from tests.places import PROFILES

HERE = PROFILES
RAIL = "roof-rail.toml"


@dataclass(frozen=True)
class Truth:
    """The brake and its sheet: K, inside radius [mm], thickness [mm], offset [mm], springback; errors of measuring."""

    k: float = 0.49
    radius: float = 3.175 + 0.2
    thickness: float = 0.040 * 25.4 + 0.01
    offset: float = 0.7
    share: float = 0.034
    bow: float = 0.12
    nose: float = 1.5
    error: float = 0.1
    angle_error: float = 0.25

    def angle(self, leaf: float, arm: float) -> float:
        """Finished bend angle of a leaf angle [deg]."""
        return (leaf - self.bow * arm / self.thickness) / (1 + self.share)

    def leaf(self, angle: float, arm: float) -> float:
        """Leaf angle that a bend angle asks for [deg]."""
        return angle * (1 + self.share) + self.bow * arm / self.thickness


@dataclass(frozen=True)
class Line:
    """A bend as the worker is told: its sight line from the held edge, the held side, leaf angle, arm."""

    sight: float
    first: bool
    leaf: float
    arm: float


def bent(truth: Truth, blank: float, lines: Sequence[Line]) -> tuple[list[float], list[float]]:
    """Legs to their mould lines (outer faces, extended), and angles, of a blank bent on its lines. About a square bend
    that is what a calliper finds overall, its jaw on the outer face beyond."""
    here, carried, legs, angles = 0.0, 0.0, [], []
    for line in lines:
        turned = truth.angle(line.leaf, line.arm)
        arc = math.radians(turned) * (truth.radius + truth.k * truth.thickness)
        tangent = line.sight - truth.nose - truth.offset
        start = tangent if line.first else blank - tangent - arc
        back = (truth.radius + truth.thickness) * math.sin(math.radians(turned)) / (1 + math.cos(math.radians(turned)))
        legs.append(carried + start - here + back)
        here, carried = start + arc, back
        angles.append(turned)
    return [*legs, carried + blank - here], angles


def finished(truth: Truth, record: dict[str, Any], arms: dict[str, float]) -> list[float]:
    """The legs of a part bent on the lines of its drawing's own record, the leaf swung until each bend is right."""
    stages = {s["bend"]: s for s in record["schedule"]["stages"]}
    lines = []
    for n, bend in enumerate(record["bends"]):
        stage, arm = stages[bend["label"]], arms[bend["label"]]
        first = stage["sight"]["held"]["number"] == n + 1
        lines.append(Line(stage["sight"]["from_held_edge"], first, truth.leaf(bend["angle"], arm), arm))
    return bent(truth, record["blank"]["width"], lines)[0]


def written(truth: Truth, reading: StripReading, number: int, rng: np.random.Generator) -> StripReading:
    """A strip bent, and its form filled in."""
    lines = []
    for bend in reading.bends:
        assert bend.sight is not None
        lines.append(Line(bend.sight, bend.held == "first", bend.angle * 1.03 + float(rng.normal(0, 0.5)), bend.arm))
    legs, angles = bent(truth, reading.blank, lines)

    def off(value: float, error: float) -> float:
        return round(value + float(rng.normal(0, error)), 3)

    return replace(
        reading,
        name=f"{reading.name} {number}",
        sheet="sheet 1",
        thickness=off(truth.thickness, truth.error / 20),
        blank_got=off(reading.blank, truth.error),
        legs=tuple(replace(g, got=off(size, truth.error)) for g, size in zip(reading.legs, legs, strict=True)),
        bends=tuple(
            replace(b, set=round(line.leaf, 3), got=off(got, truth.angle_error), radius=off(truth.radius, truth.error))
            for b, line, got in zip(reading.bends, lines, angles, strict=True)
        ),
    )


def furnish(folder: Path, rail: str = "") -> Path:
    """Put the rail and the shop into a folder, which has no log yet; ``rail`` in place of the definition."""
    (folder / RAIL).write_text(rail or (HERE / RAIL).read_text("utf-8"), "utf-8")
    (folder / "shop.toml").write_text((HERE / "shop.toml").read_text("utf-8"), "utf-8")
    return folder


def learn_strips(folder: Path, truth: Truth, count: int, seed: int = 7) -> tuple[StripReading, ...]:
    """Cut strips of the rail as it is planned now, bend, measure, fill the form in, and add it to the log."""
    rng = np.random.default_rng(seed)
    table, _ = metals_beside(folder / RAIL)
    planned = plan(folder / RAIL, table)
    strip = cut_strip(planned.profile, planned.schedule, 25.0)
    readings = tuple(written(truth, strip.reading, n, rng) for n in range(count))
    path = folder / "form.toml"
    path.write_text(form_text(readings, order=strip.order), "utf-8")
    form = read_form(path)
    assert form.readings == readings
    append(Path(read_shop(folder / "shop.toml").strips), form.readings)
    return readings
