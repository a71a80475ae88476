"""A profile definition read from its file, resolved to numbers and checked.

All faults of a file are raised at once. A later check runs only where the values that it needs are good, so that one
slip is noted once: file, shape, head, section, bends, openings and cuts as written, then what only the whole part
shows (flats, order, places of openings, crossings).
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
from flatgen.definition.part import BendSpec, Particulars, bend_findings, short_flat_findings
from flatgen.definition.place_openings import place_openings
from flatgen.definition.quantities import gauge_look_up, read_length, read_metal
from flatgen.definition.read_openings import read_cutouts, read_name
from flatgen.definition.section import crossings, trace
from flatgen.definition.shapes import WORDS, BendShape, DrawingShape, LegShape, PartShape
from flatgen.definition.toml.document import FaultNotes, key_text, read_toml
from flatgen.definition.toml.shape import fit_shape, quoted_value
from flatgen.metal.allowance import Dimensions, StripAllowance, setback
from flatgen.metal.metals import Metal, load_metals

MOST_CROSSINGS_LISTED = 5


def read_profile(
    path: str | FilePath,
    metals: Mapping[str, Metal] | None = None,
    radii: Mapping[str, float] | None = None,
    known: Mapping[str, StripAllowance] | None = None,
) -> Profile:
    """Read a profile definition.

    :param path: the TOML file; its stem names the part
    :param metals: metals to look up; None for those of the package
    :param radii: inside radii by label of the bend, in place of those of the file [mm]
    :param known: allowances from strips, by label. A bend whose allowance is "measured" is refused where this is None,
        and has the allowance of its metal where it is not among them
    :returns: the part [mm, deg] with its findings
    :raises InputRefused: With every fault of the file
    """
    path = FilePath(path)
    notes = FaultNotes("".join(c if c.isprintable() else "?" for c in str(path)))
    try:
        safe_name(path.stem)
    except NotAName as error:
        notes.add((), "FG006", f"the name of the file names the part: {error.text}", error.remedy)
    data = read_toml(path, notes)
    part = fit_shape(PartShape, data, notes, (), WORDS)
    head = replace(_head(part, notes, load_metals() if metals is None else metals), radii=radii or {}, known=known)
    legs, raw_bends = _section(part, head, notes)
    bends = bend_specs(raw_bends, head, notes)
    order = _order(part, bends, notes)
    particulars = _particulars(part.get("drawing"), notes)
    sound = not notes.faults
    cutouts = read_cutouts(legs, head, notes)
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
        title=part["title"].strip(),
        particulars=particulars,
    )
    flats = _check_flats(profile, notes)
    openings: tuple[Opening, ...] = ()
    row_findings: tuple[Finding, ...] = ()
    if min(flats) >= bounds.LEAST_FLAT - bounds.EDGE:
        openings, row_findings = place_openings(profile, flats, cutouts.drafts, notes)
        _check_crossings(profile, notes)
    if notes.faults:
        raise notes.refuse()
    profile = replace(profile, openings=openings, cuts=cutouts.cuts, rules=cutouts.rules, fingerprint="")
    findings = bend_findings(profile.metal, profile.thickness, profile.bends) + _end_findings(profile, flats)
    return replace(profile, findings=(*findings, *row_findings))


def _particulars(raw: Any, notes: FaultNotes) -> Particulars:
    """``[drawing]``: entries of the title block."""
    if raw is None:
        return Particulars()
    if not isinstance(raw, dict):
        notes.add(("drawing",), "FG005", f"{quoted_value(raw)} is no table", "write [drawing] and its keys below it")
        return Particulars()
    values = fit_shape(DrawingShape, raw, notes, ("drawing",), WORDS)
    texts = {key: value.strip() for key, value in values.items() if isinstance(value, str)}
    return Particulars(**{name: texts.get(name, "") for name in Particulars.__dataclass_fields__})


def _head(part: dict[str, Any], notes: FaultNotes, metals: Mapping[str, Metal]) -> Head:
    unit = part.get("units")
    metal = read_metal(part.get("metal"), metals, notes)
    thicknesses = (bounds.LEAST_THICKNESS, bounds.LARGEST_THICKNESS)
    thick = read_length(part, "thickness", unit, thicknesses, notes, gauge=gauge_look_up(metal), thin=True)
    long = read_length(part, "length", unit, bounds.SIZES, notes)
    radius = read_length(part, "inside_radius", unit, bounds.RADII, notes)
    return Head(
        metal=metal,
        thickness=thick.value if thick else None,
        thickness_note=thick.note if thick else "",
        length=long.value if long else None,
        inside_radius=radius.value if radius else None,
        dimensions=part.get("dimensions", "mould-line"),
        unit=unit,
        values=part,
    )


def _section(part: dict[str, Any], head: Head, notes: FaultNotes) -> tuple[list[Leg], list[tuple[int, dict[str, Any]]]]:
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
            raw_bends.append((place, fit_shape(BendShape, item, notes, ("section", place), WORDS)))
    return legs, raw_bends


def _kind(item: Any, place: int, notes: FaultNotes) -> str | None:
    path = ("section", place)
    if not isinstance(item, dict):
        notes.add(path, "FG005", f"{quoted_value(item)} is neither a leg nor a bend", 'write { leg = "18 mm" }')
        return None
    kinds = [key for key in ("leg", "bend") if key in item]
    if len(kinds) == 1:
        return kinds[0]
    keys = (
        "both leg and bend"
        if kinds
        else f"neither leg nor bend ({', '.join(key_text((k,)) for k in list(item)[:4]) or 'empty'})"
    )
    remedy = 'write { leg = "18 mm" } and { bend = 90, way = "up" } as items of their own'
    notes.add(path, "FG020", f"this item has {keys}", remedy)
    return None


def _check_walk(kinds: list[str | None], notes: FaultNotes) -> None:
    """Note the first place that is not leg, bend, leg, ..."""
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
            ("section", len(kinds) - 1), "FG020", "the section ends with a bend", "end with the leg at the right edge"
        )


def _leg(item: dict[str, Any], place: int, head: Head, notes: FaultNotes) -> Leg | None:
    path = ("section", place)
    values = fit_shape(LegShape, item, notes, path, WORDS)
    size = read_length(values, "leg", head.unit, bounds.SIZES, notes, path)
    name = read_name(values, notes, path)
    if size is None:
        return None
    mode: Dimensions = values.get("dimensions") or head.dimensions
    return Leg(name, size.value, mode, notes.where((*path, "leg")), bool(values.get("reference")))


def _order(part: dict[str, Any], bends: list[BendSpec | None], notes: FaultNotes) -> tuple[str, ...] | None:
    order = part.get("order")
    labels = [b.label for b in bends if b is not None]
    if order is None or len(labels) < len(bends):
        return None
    for place, label in enumerate(order):
        if label not in labels:
            known = ", ".join(labels[:30]) or "none: there is no bend"
            notes.add(("order", place), "FG023", f"no bend is called {quoted_value(label)}", f"labels are {known}")
        elif label in order[:place]:
            notes.add(("order", place), "FG023", f"bend {label} is named twice", "name every bend once")
    missing = [label for label in labels if label not in order]
    if missing:
        text = f"bend{'s' if len(missing) > 1 else ''} {', '.join(missing)} missing from the order"
        notes.add(("order",), "FG023", text, "name every bend once, or leave the order out")
    return tuple(order)


def _check_flats(profile: Profile, notes: FaultNotes) -> tuple[float, ...]:
    flats = flat_lengths(profile)
    for index, (leg, flat) in enumerate(zip(profile.legs, flats, strict=True)):
        if flat >= bounds.LEAST_FLAT - bounds.EDGE:
            continue
        at_ends = [
            (b.label, setback(b.angle, b.inside_radius, profile.thickness, leg.dimensions))
            for b in profile.bends_at(index)
        ]
        listed = " and ".join(f"{size:.3f} mm at bend {label}" for label, size in at_ends)
        least = sum(size for _, size in at_ends) + bounds.LEAST_FLAT
        setbacks = f"its setback{'s' if len(at_ends) > 1 else ''} ({leg.dimensions}) of {listed}"
        text = f"{profile.leg_text(index)} of {leg.length:.3f} mm is not longer than {setbacks}"
        remedy = f"make it at least {least:.3f} mm ({least / 25.4:.4f} in), or choose a smaller inside radius"
        notes.add(("section", 2 * index, "leg"), "FG021", text, remedy)
    return flats


def _check_crossings(profile: Profile, notes: FaultNotes) -> None:
    pairs = crossings(trace(profile), profile.thickness)
    for number, crossing in enumerate(pairs[:MOST_CROSSINGS_LISTED]):
        first, second = (_element_text(profile, e) for e in (crossing.first, crossing.second))
        if crossing.depth > 0:
            text = f"{first} and {second} run through each other when formed, {crossing.depth:.2f} mm deep"
        else:
            text = f"{first} and {second} touch when formed"
        remedy = "check lengths, angles and ways of the bends between them"
        if number == MOST_CROSSINGS_LISTED - 1 and len(pairs) > MOST_CROSSINGS_LISTED:
            remedy += "; more pairs meet than are listed here"
        notes.add(("section", crossing.second), "FG022", text, remedy)


def _element_text(profile: Profile, element: int) -> str:
    half, rest = divmod(element, 2)
    return f"bend {profile.bends[half].label}" if rest else profile.leg_text(half)


def _end_findings(profile: Profile, flats: tuple[float, ...]) -> tuple[Finding, ...]:
    findings: tuple[Finding, ...] = ()
    for index, leg in enumerate(profile.legs):
        beside = profile.bends_at(index)
        if len(beside) == 1:
            text = profile.leg_text(index)
            findings += short_flat_findings(text, flats[index], beside[0].label, profile.thickness, leg.where)
    return findings
