"""Random sections with openings and cuts, as definitions in TOML, from a seed.

Even seeds: openings wholly on the flats of their legs and no cut, so that areas and places have plain closed
forms. Odd seeds: anything, openings over tangent lines, across bends and through other legs, plane mitres, round
copes, boxes across bends and at corners.

What is refused is drawn again, and every refusal's code is kept.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from flatgen.core.errors import InputRefused
from flatgen.definition.model import Profile
from flatgen.definition.reader import read_profile
from flatgen.jobs import draw as job

MODES = ("mould-line", "inside", "overall", "inside-overall")
TRIES = 25
"""Definitions drawn for one seed before the generator itself is at fault."""
Table = dict[str, Any]


@dataclass(frozen=True)
class Part:
    """A definition that can be made: its file, what was read and unfolded, and the codes of those refused before."""

    path: Path
    profile: Profile
    made: job.Development
    refused: tuple[str, ...]


@dataclass(frozen=True)
class Plan:
    """A section without openings: thickness, length, flats of its legs, (angle, inside radius) of its bends."""

    thickness: float
    length: float
    flats: tuple[float, ...]
    bends: tuple[tuple[float, float], ...]
    modes: tuple[str, ...]
    text: str


@lru_cache(maxsize=64)
def opened_part(seed: int, folder: Path) -> Part:
    """The part of a seed, tried until it is not refused."""
    rng = random.Random(f"opened {seed}")
    path = folder / f"opened-{seed}.toml"
    plan = _clear_plan(rng, path)
    refused: list[str] = []
    for _ in range(TRIES):
        path.write_text(f"{plan.text}\n{_cutouts(rng, plan, plain=seed % 2 == 0)}", encoding="utf-8")
        try:
            profile = read_profile(path)
            return Part(path, profile, job.develop_solid(profile), tuple(refused))
        except InputRefused as error:
            refused.append("+".join(sorted({f.code for f in error.faults})))
    raise AssertionError(f"seed {seed}: {TRIES} definitions were refused: {refused}")


def _clear_plan(rng: random.Random, path: Path) -> Plan:
    """A section whose legs clear each other when formed."""
    bends = rng.randint(1, 8)
    while True:
        plan = _plan(rng, bends)
        path.write_text(plan.text, encoding="utf-8")
        try:
            read_profile(path)
            return plan
        except InputRefused as error:
            if {f.code for f in error.faults} != {"FG022"}:
                raise


def _plan(rng: random.Random, count: int) -> Plan:
    t = rng.choice((0.5, 0.8128, 1.016, 1.5, 3.0))
    bends = tuple((rng.choice((90.0, 45.0, 30.0, rng.uniform(5, 170))), t * rng.uniform(0.7, 6)) for _ in range(count))
    flats = tuple(rng.uniform(8, 70) if rng.random() < 0.8 else rng.uniform(1, 8) for _ in range(count + 1))
    length, rows, modes = rng.uniform(60, 400), [], []
    for n, flat in enumerate(flats):
        mode = rng.choice(MODES)
        sides = [setback(*bends[i], t, mode) for i in (n - 1, n) if 0 <= i < count]
        rows.append(f'{{ leg = {flat + sum(sides)!r}, dimensions = "{mode}", name = "leg {n}" }},')
        modes.append(mode)
        if n < count:
            angle, radius = bends[n]
            way, k = rng.choice(("up", "down")), rng.uniform(0.2, 0.8)
            rows.append(f'{{ bend = {angle!r}, way = "{way}", inside_radius = "{radius!r} mm", k = {k!r} }},')
    section = "\n  ".join(rows)
    head = f'metal = "DC01"\nunits = "mm"\nthickness = {t}\ninside_radius = {t}\nlength = {length!r}\n'
    return Plan(t, length, flats, bends, tuple(modes), f"{head}section = [\n  {section}\n]\n")


def setback(angle: float, radius: float, t: float, mode: str) -> float:
    """From the tangent line to what a leg is dimensioned to [mm]."""
    reach = math.tan(math.radians((min(angle, 90.0) if "overall" in mode else angle) / 2))
    return (radius if "inside" in mode else radius + t) * reach


def _cutouts(rng: random.Random, plan: Plan, plain: bool) -> str:
    tables = [("opening", _opening(rng, plan, plain)) for _ in range(rng.randint(1 if plain else 0, 12))]
    if not plain:
        tables += [("cut", _cut(rng, plan)) for _ in range(rng.choice((0, 1, 1, 2, 3)))]
    return "\n".join(f"[[{kind}]]\n" + "\n".join(f"{k} = {_toml(v)}" for k, v in t.items()) for kind, t in tables)


def _toml(value: Any) -> str:
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {_toml(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_toml(v) for v in value) + "]"
    return repr(value)


def _opening(rng: random.Random, plan: Plan, plain: bool) -> Table:
    leg = rng.choices(range(len(plan.flats)), weights=plan.flats)[0]
    flat, length = plan.flats[leg], plan.length
    made, half = _shape(rng, 0.9 * min(flat, length / 6, 40.0))
    low, high = half + 0.02, flat - half - 0.02
    count, last = rng.choice((1, 1, 1, 2, 3)), len(plan.flats) - 1
    x = rng.uniform(low, high)
    if not plain and rng.random() < 0.2 and last:
        side = rng.choice([s for s, at in ((0.0, 0), (flat, last)) if leg != at])  # over a tangent line, or across
        x = side + rng.uniform(-1, 1) * half
    y = rng.uniform(half + 0.02, length - half - 0.02)
    table: Table = {"leg": leg + 1 if rng.random() < 0.5 else f"leg {leg}"} | made
    mode = plan.modes[leg]
    if rng.random() < 0.5:
        mode = table["dimensions"] = rng.choice(MODES)
    left, right = (setback(*plan.bends[n], plan.thickness, mode) if 0 <= n < last else 0.0 for n in (leg - 1, leg))
    x = min(max(x, -0.9 * left), flat + 0.9 * right)
    table |= _across(rng, plan, leg, mode, x) | _along(rng, plan, y, half, count)
    if rng.random() < 0.15 and high - low > 2.2 * half and 0 <= x < low + (high - low) / 3:
        pitch = (high - x) / 2 if "row_across" not in table else 0.0
        if pitch > 2.1 * half and table.get("across_from", "left") == "left":
            table["row_across"] = {"count": rng.choice((1, 2, 3)), "pitch": pitch}
    if not plain and rng.random() < 0.04 and last:
        table["through"] = [rng.choice([n + 1 for n in range(last + 1) if n != leg])]  # refused where it is not met
    return table


def _shape(rng: random.Random, most: float) -> tuple[Table, float]:
    """Shape and sizes, and half of its largest extent [mm]."""
    kind = rng.choice(("round", "round", "slot", "rectangle"))
    if kind == "round":
        size = rng.uniform(0.1, 0.7) * most
        return {"shape": kind, "diameter": f"{size!r} mm" if rng.random() < 0.5 else size}, size / 2
    wide, high = rng.uniform(0.1, 0.6) * most, rng.uniform(0.1, 0.6) * most
    turn = rng.choice((0.0, 90.0, 30.0, rng.uniform(-360, 360)))
    table: Table = {"shape": kind, "size_across": wide, "size_along": high}
    if turn or rng.random() < 0.5:
        table["turn"] = turn
    if kind == "rectangle" and rng.random() < 0.5:
        table["corner_radius"] = rng.uniform(0.05, 0.45) * min(wide, high)
    return table, math.hypot(wide, high) / 2


def _across(rng: random.Random, plan: Plan, leg: int, mode: str, x: float) -> Table:
    """A place ``x`` from where the flat begins, as measured from a limit of the leg or its middle."""
    last = len(plan.flats) - 1
    left = setback(*plan.bends[leg - 1], plan.thickness, mode) if leg else 0.0
    right = setback(*plan.bends[leg], plan.thickness, mode) if leg < last else 0.0
    width, start = left + plan.flats[leg] + right, rng.choice(("left", "right", "middle"))
    place = {"left": x + left, "right": width - x - left, "middle": x + left - width / 2}[start]
    return {"across": place} if start == "left" else {"across": f"{place!r} mm", "across_from": start}


def _along(rng: random.Random, plan: Plan, y: float, half: float, count: int) -> Table:
    """A place ``y`` along, with or without a row that stays on the part."""
    length, start = plan.length, rng.choice(("bottom", "top", "middle"))
    if count == 1:
        place = {"bottom": y, "top": length - y, "middle": y - length / 2}[start]
        return {"along": place, "along_from": start}
    end = half + 0.02 + rng.uniform(0.0, 0.2) * length
    if end + 2.1 * half * count > length - half - 1.0:
        return {"along": y}
    if start == "middle":
        return {"along_from": start, "row_along": {"count": count, "pitch": (length / 2 - half - 0.1) / count}}
    given = rng.choice(("count pitch", "count last", "pitch last"))
    pitch = (length - 2 * half - 0.1 - end) / (count + 0.5)
    whole = {"count": count, "pitch": pitch, "last": half + 0.02 + rng.random()}
    return {"along": end, "along_from": start, "row_along": {k: whole[k] for k in given.split()}}


def _cut(rng: random.Random, plan: Plan) -> Table:
    leg = rng.randrange(len(plan.flats))
    end = rng.choice(("bottom", "top"))
    table: Table = {"leg": leg + 1}
    kind = rng.choice(("plane", "plane", "round", "round", "box"))
    if kind == "plane":
        return table | _plane(rng, plan, leg, end)
    if kind == "round":
        return table | _cope(rng, plan, leg, end)
    return table | _box(rng, plan, leg, end)


def _plane(rng: random.Random, plan: Plan, leg: int, end: str) -> Table:
    """A square cut or a mitre near an end, no steeper than the part is long."""
    most = math.degrees(math.atan(0.3 * plan.length / (sum(plan.flats) + 20)))
    turn = rng.choice((0.0, rng.uniform(-most, most)))
    tilt = rng.choice((0.0, 0.0, rng.uniform(-most, most)))
    table: Table = {"tool": "plane", "remove": end, "along": rng.uniform(0.03, 0.3) * plan.length, "along_from": end}
    table |= {"across_from": "middle", "turn": turn, "tilt": tilt}
    if rng.random() < 0.2:
        table["legs"] = [leg + 1]
    if rng.random() < 0.2:
        table["above"] = rng.uniform(-5, 5)
    return table


def _cope(rng: random.Random, plan: Plan, leg: int, end: str) -> Table:
    """A round tool at an end, with any axis; or one that passes through the leg like a drill that leans."""
    axis = rng.choice(("normal", "across", "along"))
    table: Table = {"tool": "round", "axis": axis, "across_from": "middle", "along_from": end}
    if axis == "along":
        table |= {"tilt": rng.choice((-1, 1)) * rng.uniform(35, 80), "turn": rng.uniform(-180, 180)}
        table |= {"diameter": rng.uniform(1, 0.4 * plan.flats[leg] + 1), "along": rng.uniform(0.2, 0.8) * plan.length}
    else:
        most = 50.0 if axis == "normal" else 25.0
        table |= {"diameter": rng.uniform(4, 0.35 * plan.length), "along": rng.uniform(-0.02, 0.05) * plan.length}
        table["tilt"] = rng.choice((0.0, rng.uniform(-most, most)))
        if axis == "across" or table["tilt"]:
            table["turn"] = rng.choice((0.0, 45.0, -45.0, rng.uniform(-60, 60)))
        table["across"] = rng.uniform(-0.5, 0.5) * plan.flats[leg]
    if axis == "across" and rng.random() < 0.5:
        table["above"] = rng.uniform(-0.3, 0.3) * plan.length
    if rng.random() < 0.3:
        table["legs"] = [leg + 1]
    return table


def _box(rng: random.Random, plan: Plan, leg: int, end: str) -> Table:
    """A notch at a corner or in an end, or a window across a bend."""
    flat = plan.flats[leg]
    high = rng.uniform(0.03, 0.2) * plan.length
    along = rng.choice((0.0, rng.uniform(0.25, 0.5) * plan.length))
    table: Table = {"tool": "box", "across": rng.uniform(0, 0.3) * flat, "across_from": rng.choice(("left", "right"))}
    table |= {"along": along, "along_from": end, "size_across": rng.uniform(0.2, 0.8) * flat + 1, "size_along": high}
    if rng.random() < 0.5:
        table["turn"] = rng.choice((45.0, rng.uniform(-90, 90)))
    if rng.random() < 0.4:
        table["corner_radius"] = 0.3 * min(high, table["size_across"])
    if rng.random() < 0.6:
        table["size_above"] = rng.uniform(0.5, 2.5) * 4 * plan.thickness
    if rng.random() < 0.4:
        table["legs"] = [leg + 1]
    return table
