"""A profile definition from its file: read, resolved to numbers, and judged.

All faults of a file are collected and raised at once. A later check runs only where the values that it
needs are good, so that one slip is told once. The walk: file, shape, head, section, bends, openings and cuts
as written, then what only the whole part shows (flats, order, places of openings, crossings).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path as FilePath
from typing import Any

from flatgen.core.errors import Finding
from flatgen.core.files import NotAName, safe_name
from flatgen.definition import limits as bounds
from flatgen.definition.bends import Head, bend_specs
from flatgen.definition.closed_form import flat_lengths
from flatgen.definition.model import Leg, Opening, Profile
from flatgen.definition.part import BendSpec, Particulars, bend_findings, short_flat
from flatgen.definition.place_openings import placed_openings
from flatgen.definition.quantities import gauge_of, length, metal_named
from flatgen.definition.read_openings import read_cutouts
from flatgen.definition.section import crossings, trace
from flatgen.definition.shapes import WORDS, BendShape, DrawingShape, LegShape, PartShape
from flatgen.definition.toml.document import Notes, key_text, read_toml
from flatgen.definition.toml.shape import shape, shown
from flatgen.metal.allowance import Dimensions, Measured, setback
from flatgen.metal.metals import Metal, load_metals

MOST_CROSSINGS_TOLD = 5


def read_profile(
    path: str | FilePath,
    metals: Mapping[str, Metal] | None = None,
    radii: Mapping[str, float] | None = None,
    known: Mapping[str, Measured] | None = None,
) -> Profile:
    """Read a profile definition.

    :param path: the TOML file; its stem names the part
    :param metals: metals to look up; None for those of the package
    :param radii: inside radii by label of the bend that go before those of the file [mm]
    :param known: what strips told of bends, by label; a bend whose allowance is asked of them is refused where it is
        None, and has that of its metal where it is not among them
    :returns: the part, its sizes in [mm] and angles in [deg], with the findings that its numbers give rise to
    :raises InputRefused: If it cannot be used; carries every fault that was found
    """
    path = FilePath(path)
    notes = Notes("".join(c if c.isprintable() else "?" for c in str(path)))
    _check_name(path, notes)
    data = read_toml(path, notes)
    part = shape(PartShape, data, notes, (), WORDS)
    head = replace(_head(part, notes, load_metals() if metals is None else metals), radii=radii or {}, known=known)
    legs, raw_bends = _section(part, head, notes)
    bends = bend_specs(raw_bends, part, head, notes)
    order = _order(part, bends, notes)
    particulars = _particulars(part.get("drawing"), notes)
    sound = not notes.faults
    taken = read_cutouts(part, legs, head, notes)
    if not sound or head.metal is None or head.thickness is None or head.length is None:
        raise notes.refuse()
    profile = Profile(
        name=path.stem,
        path=str(path),
        metal=head.metal,
        thickness=head.thickness,
        thickness_note=head.thickness_note,
        length=head.length,
        dimensions=head.dimensions,
        legs=tuple(legs),
        bends=tuple(b for b in bends if b is not None),
        order=order,
        findings=(),
        title=part["title"].strip(),
        particulars=particulars,
    )
    flats = _check_flats(profile, notes)
    openings: tuple[Opening, ...] = ()
    told: tuple[Finding, ...] = ()
    if min(flats) >= bounds.LEAST_FLAT - bounds.EDGE:
        openings, told = placed_openings(profile, flats, taken.drafts, notes)
        _check_crossings(profile, notes)
    if notes.faults:
        raise notes.refuse()
    profile = replace(profile, openings=openings, cuts=taken.cuts, rules=taken.rules, fingerprint="")
    return _with_findings(profile, flats, told)


def _check_name(path: FilePath, notes: Notes) -> None:
    try:
        safe_name(path.stem)
    except NotAName as error:
        notes.add((), "FG006", f"the name of the file names the part: {error.text}", error.remedy)


def _particulars(raw: Any, notes: Notes) -> Particulars:
    """What the title block of the shop sheet says."""
    if raw is None:
        return Particulars()
    if not isinstance(raw, dict):
        notes.add(("drawing",), "FG005", f"{shown(raw)} is no table", "write [drawing] and its keys below it")
        return Particulars()
    said = shape(DrawingShape, raw, notes, ("drawing",), WORDS)
    texts = {key: value.strip() for key, value in said.items() if isinstance(value, str)}
    return Particulars(**{name: texts.get(name, "") for name in Particulars.__dataclass_fields__})


def _head(part: dict[str, Any], notes: Notes, metals: Mapping[str, Metal]) -> Head:
    unit = part.get("units")
    metal = metal_named(part.get("metal"), metals, notes)
    thick = length(
        notes,
        ("thickness",),
        part.get("thickness"),
        unit,
        (bounds.LEAST_THICKNESS, bounds.LARGEST_THICKNESS),
        gauge=gauge_of(metal),
        thin=True,
    )
    long = length(notes, ("length",), part.get("length"), unit, (bounds.LEAST_SIZE, bounds.LARGEST_SIZE))
    radius = length(
        notes,
        ("inside_radius",),
        part.get("inside_radius"),
        unit,
        (bounds.LEAST_RADIUS, bounds.LARGEST_RADIUS),
    )
    return Head(
        metal=metal,
        thickness=thick.value if thick else None,
        thickness_note=thick.note if thick else "",
        length=long.value if long else None,
        inside_radius=radius.value if radius else None,
        dimensions=part.get("dimensions", "mould-line"),
        unit=unit,
    )


def _section(part: dict[str, Any], head: Head, notes: Notes) -> tuple[list[Leg], list[tuple[int, dict[str, Any]]]]:
    """Legs, and the bends as written with their places in the section."""
    section = part.get("section", [])
    legs: list[Leg] = []
    raw_bends: list[tuple[int, dict[str, Any]]] = []
    if len(section) > 2 * bounds.MOST_LEGS - 1:
        text = f"{len(section)} items are more than {bounds.MOST_LEGS} legs and the bends between them"
        notes.add(("section",), "FG012", text, "split the part")
        return legs, raw_bends
    kinds = [_kind(item, place, notes) for place, item in enumerate(section)]
    _check_walk(kinds, notes)
    for place, (kind, item) in enumerate(zip(kinds, section, strict=True)):
        if kind == "leg":
            leg = _leg(item, place, head, notes)
            legs += [leg] if leg else []
        elif kind == "bend":
            raw_bends.append((place, shape(BendShape, item, notes, ("section", place), WORDS)))
    return legs, raw_bends


def _kind(item: Any, place: int, notes: Notes) -> str | None:
    path = ("section", place)
    if not isinstance(item, dict):
        notes.add(path, "FG005", f"{shown(item)} is neither a leg nor a bend", 'write { leg = "18 mm" }')
        return None
    kinds = [key for key in ("leg", "bend") if key in item]
    if len(kinds) == 1:
        return kinds[0]
    said = (
        "both leg and bend"
        if kinds
        else f"neither leg nor bend ({', '.join(key_text((k,)) for k in list(item)[:4]) or 'empty'})"
    )
    remedy = 'write { leg = "18 mm" } and { bend = 90, way = "up" } as items of their own'
    notes.add(path, "FG020", f"this item has {said}", remedy)
    return None


def _check_walk(kinds: list[str | None], notes: Notes) -> None:
    """Leg, bend, leg, ...; says only the first place that breaks the walk."""
    if None in kinds or not kinds:
        return
    for place, kind in enumerate(kinds):
        wanted = "leg" if place % 2 == 0 else "bend"
        if kind == wanted:
            continue
        if place == 0:
            text, remedy = "the section begins with a bend", "begin with the leg at the left edge"
        elif kind == "bend":
            text = "two bends follow each other"
            remedy = f"put the leg between them; a flat of {bounds.LEAST_FLAT:g} mm is the least"
        else:
            text = "two legs follow each other"
            remedy = "put the bend between them, or make them one leg"
        notes.add(("section", place), "FG020", text, remedy)
        return
    if len(kinds) % 2 == 0:
        notes.add(
            ("section", len(kinds) - 1),
            "FG020",
            "the section ends with a bend",
            "end with the leg at the right edge",
        )


def _leg(item: dict[str, Any], place: int, head: Head, notes: Notes) -> Leg | None:
    path = ("section", place)
    values = shape(LegShape, item, notes, path, WORDS)
    limits = (bounds.LEAST_SIZE, bounds.LARGEST_SIZE)
    size = length(notes, (*path, "leg"), values.get("leg"), head.unit, limits)
    name = values.get("name")
    if name is not None and not (name.isprintable() and name.strip()):
        notes.add((*path, "name"), "FG023", f"{shown(name)} is not printable on one line", "use plain words")
    if size is None:
        return None
    mode: Dimensions = values.get("dimensions") or head.dimensions
    named = name.strip() if name else None
    return Leg(named, size.value, mode, notes.where((*path, "leg")), bool(values.get("reference")))


def _order(part: dict[str, Any], bends: list[BendSpec | None], notes: Notes) -> tuple[str, ...] | None:
    order = part.get("order")
    labels = [b.label for b in bends if b is not None]
    if order is None or len(labels) < len(bends):
        return None
    for place, label in enumerate(order):
        if label not in labels:
            known = ", ".join(labels[:30]) or "none: there is no bend"
            notes.add(("order", place), "FG023", f"no bend is called {shown(label)}", f"labels are {known}")
        elif label in order[:place]:
            notes.add(("order", place), "FG023", f"bend {label} is named twice", "name every bend once")
    missing = [label for label in labels if label not in order]
    if missing:
        text = f"bend{'s' if len(missing) > 1 else ''} {', '.join(missing)} missing from the order"
        notes.add(("order",), "FG023", text, "name every bend once, or leave the order out")
    return tuple(order)


def _check_flats(profile: Profile, notes: Notes) -> tuple[float, ...]:
    flats = flat_lengths(profile)
    for index, (leg, flat) in enumerate(zip(profile.legs, flats, strict=True)):
        if flat >= bounds.LEAST_FLAT - bounds.EDGE:
            continue
        at_ends = [
            (b.label, setback(b.angle, b.inside_radius, profile.thickness, leg.dimensions))
            for b in profile.bends_at(index)
        ]
        told = " and ".join(f"{size:.3f} mm at bend {label}" for label, size in at_ends)
        least = sum(size for _, size in at_ends) + bounds.LEAST_FLAT
        setbacks = f"its setback{'s' if len(at_ends) > 1 else ''} ({leg.dimensions}) of {told}"
        text = f"{profile.leg_text(index)} of {leg.length:.3f} mm is not longer than {setbacks}"
        remedy = f"make it at least {least:.3f} mm ({least / 25.4:.4f} in), or choose a smaller inside radius"
        notes.add(_leg_path(index), "FG021", text, remedy)
    return flats


def _check_crossings(profile: Profile, notes: Notes) -> None:
    found = crossings(trace(profile), profile.thickness)
    for number, crossing in enumerate(found[:MOST_CROSSINGS_TOLD]):
        first, second = (_element_text(profile, e) for e in (crossing.first, crossing.second))
        if crossing.depth > 0:
            text = f"{first} and {second} run through each other when formed, {crossing.depth:.2f} mm deep"
        else:
            text = f"{first} and {second} touch when formed"
        remedy = "check lengths, angles and ways of the bends between them"
        if number == MOST_CROSSINGS_TOLD - 1 and len(found) > MOST_CROSSINGS_TOLD:
            remedy += "; more pairs meet than are listed here"
        notes.add(("section", crossing.second), "FG022", text, remedy)


def _element_text(profile: Profile, element: int) -> str:
    half, rest = divmod(element, 2)
    return f"bend {profile.bends[half].label}" if rest else profile.leg_text(half)


def _leg_path(index: int) -> tuple[str | int, ...]:
    return ("section", 2 * index, "leg")


def _with_findings(profile: Profile, flats: tuple[float, ...], rows: tuple[Finding, ...]) -> Profile:
    found = bend_findings(profile.metal, profile.thickness, profile.bends) + _end_findings(profile, flats)
    return replace(profile, findings=(*found, *rows))


def _end_findings(profile: Profile, flats: tuple[float, ...]) -> tuple[Finding, ...]:
    """A note for each end leg with less flat than two thicknesses."""
    found: tuple[Finding, ...] = ()
    for index, leg in enumerate(profile.legs):
        beside = profile.bends_at(index)
        if len(beside) == 1:
            text = profile.leg_text(index)
            found += short_flat(text, flats[index], beside[0].label, profile.thickness, leg.where)
    return found
