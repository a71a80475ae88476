"""The formed part of a definition as a solid, its STEP, and what a flat pattern of it is called.

The section stands in the x-z plane (:mod:`flatgen.profile.trace`) and is extruded along +y from 0 to the
length. Names, letters and allowances reach the unfolded flat by *geometry*: a point on each leg's near face,
the axis of each bend. One that finds no counterpart is a bug and stops the command.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace
from typing import Any

import numpy as np

from flatgen.errors import Fault, IdentityFailed
from flatgen.flat import FlatPattern, Matrix, Point
from flatgen.profile.model import BendSpec, Profile
from flatgen.profile.trace import BendTrace, LegTrace, Trace, trace
from flatgen.rule import Axis, BendAllowance, Rule, View

PLACEHOLDER = "NAME-OF-THE-PART"
"""Stands for the name while the kernel writes, which knows ASCII only."""
NEAR = 1e-6
"""Two places of the formed part that lie closer are one [mm]."""


def formed_solid(found: Trace, length: float) -> Any:
    """The formed part as a CadQuery solid.

    Parameters
    ----------
    found : Trace
    length : float
        Along the bends [mm].
    """
    import cadquery as cq

    def vector(p: Point) -> Any:
        return cq.Vector(p[0], 0.0, p[1])

    def side(sign: float) -> list[Any]:
        edges = []
        for n, leg in enumerate(found.legs):
            edges.append(cq.Edge.makeLine(*(vector(_beside(leg, s, sign * found.thickness / 2)) for s in (0.0, 1.0))))
            if n < len(found.bends):
                bend = found.bends[n]
                inside = (bend.way == "up") == (sign > 0)
                radius = bend.inside_radius + (0.0 if inside else found.thickness)
                edges.append(_arc(cq, bend, radius))
        return edges

    near, far = side(1.0), side(-1.0)
    ends = [cq.Edge.makeLine(a.startPoint(), b.startPoint()) for a, b in ((near[0], far[0]),)]
    ends += [cq.Edge.makeLine(a.endPoint(), b.endPoint()) for a, b in ((near[-1], far[-1]),)]
    wire = cq.Wire.assembleEdges([*near, ends[1], *reversed(far), ends[0]])
    return cq.Solid.extrudeLinear(cq.Face.makeFromWires(wire), cq.Vector(0.0, length, 0.0))


def _arc(cq: Any, bend: BendTrace, radius: float) -> Any:
    points = (bend.at(share, radius) for share in (0.0, 0.5, 1.0))
    return cq.Edge.makeThreePointArc(*(cq.Vector(x, 0.0, z) for x, z in points))


def _beside(leg: LegTrace, share: float, offset: float) -> Point:
    """A point at a share of a leg, ``offset`` to the left of its mid-surface [mm]."""
    a = math.radians(leg.heading)
    x, z = leg.start
    run = leg.length * share
    return (x + run * math.cos(a) - offset * math.sin(a), z + run * math.sin(a) + offset * math.cos(a))


def view_of(found: Trace, length: float) -> View:
    """How the definition is read: its near face, x from the first leg to the last."""
    x, z = _beside(found.legs[found.root], 0.5, found.thickness / 2)
    return View((x, length / 2, z), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))


def rule_of(profile: Profile, found: Trace) -> Rule:
    """Each bend's own allowance, found by the axis of the bend."""

    def rule(axis: Axis, inside_radius: float, angle: float) -> BendAllowance:
        bend = profile.bends[_bend_at(found, axis)]
        return BendAllowance(bend.allowance.length, bend.allowance.k, bend.allowance.method)

    return rule


def named(flat: FlatPattern, profile: Profile, found: Trace) -> FlatPattern:
    """The flat with the definition's leg names, bend labels and order attached.

    Raises
    ------
    IdentityFailed
        FG903 where a leg or bend of the definition has no counterpart, or two have the same.
    """
    inverses: list[Matrix] = [np.asarray(np.linalg.inv(p.placed), dtype=np.float64) for p in flat.panels]
    homes = [_panel_at(flat, inverses, found, n, profile.length) for n in range(len(found.legs))]
    order = [_bend_at(found, b.axis) for b in flat.bends]
    if len(set(homes)) != len(flat.panels) or len(set(order)) != len(profile.bends):
        raise IdentityFailed(Fault("FG903", profile.path, "two legs or bends of the definition share one in the solid"))
    panels = list(flat.panels)
    for leg, home in zip(profile.legs, homes, strict=True):
        panels[home] = replace(panels[home], name=leg.name)
    bends = []
    for spec_index, bend in sorted(zip(order, flat.bends, strict=True), key=lambda pair: pair[0]):
        spec = profile.bends[spec_index]
        _same_bend(profile, spec, bend.way, bend.angle, bend.inside_radius)
        bends.append(replace(bend, label=spec.label, order=profile.order_of(spec.label)))
    return replace(flat, panels=tuple(panels), bends=tuple(bends))


def _same_bend(profile: Profile, spec: BendSpec, way: str, angle: float, radius: float) -> None:
    if way != spec.way or abs(angle - spec.angle) > NEAR or abs(radius - spec.inside_radius) > NEAR:
        text = f"bend {spec.label} is {spec.way} {spec.angle:g} deg, r {spec.inside_radius:g} mm in the definition"
        text += f" and {way} {angle:g} deg, r {radius:g} mm in the solid"
        raise IdentityFailed(Fault("FG903", profile.path, text))


def _bend_at(found: Trace, axis: Axis) -> int:
    (x, _, z), direction = axis
    for n, bend in enumerate(found.bends):
        if math.dist(bend.centre, (x, z)) < NEAR and abs(abs(direction[1]) - 1) < NEAR:
            return n
    raise IdentityFailed(Fault("FG903", "the solid", f"no bend of the definition turns about x {x:.4f}, z {z:.4f} mm"))


def _panel_at(flat: FlatPattern, inverses: list[Matrix], found: Trace, leg: int, length: float) -> int:
    """The panel whose near face holds the middle of a leg's near face."""
    x, z = _beside(found.legs[leg], 0.5, found.thickness / 2)
    normal = _beside(found.legs[leg], 0.5, found.thickness / 2 + 1.0)
    for n, panel in enumerate(flat.panels):
        u, v, w = (inverses[n] @ (x, length / 2, z, 1.0))[:3]
        if abs(w - flat.thickness) > NEAR:
            continue
        out = panel.placed[:3, 2] @ (normal[0] - x, 0.0, normal[1] - z)
        x0, y0, x1, y1 = panel.outline.box()
        if out > 1 - NEAR and x0 < u < x1 and y0 < v < y1:
            return n
    raise IdentityFailed(Fault("FG903", "the solid", f"leg {leg + 1} of the definition has no face in the solid"))


def build(profile: Profile) -> tuple[Any, Trace]:
    """The formed solid of a definition, and the trace that it was built from."""
    found = trace(profile)
    return formed_solid(found, profile.length), found


def step_text(solid: Any, name: str) -> str:
    """A STEP file (AP214, mm) of one solid, the product named, the header the same on every run.

    Raises
    ------
    OSError
        Where the kernel cannot write its temporary file.
    """
    import tempfile
    from pathlib import Path

    from OCP.IFSelect import IFSelect_RetDone
    from OCP.Interface import Interface_Static
    from OCP.STEPControl import STEPControl_AsIs, STEPControl_Writer

    writer = STEPControl_Writer()
    Interface_Static.SetCVal_s("write.step.schema", "AP214IS")
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    Interface_Static.SetCVal_s("write.step.product.name", PLACEHOLDER)
    if writer.Transfer(solid.wrapped, STEPControl_AsIs) != IFSelect_RetDone:
        raise OSError("the kernel could not translate the solid to STEP")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.step"
        if writer.Write(str(path)) != IFSelect_RetDone:
            raise OSError("the kernel could not write STEP")
        text = path.read_text(encoding="utf-8", errors="replace")
    part = _step_string(name)
    named_text = re.sub(rf"'{PLACEHOLDER}( \d+)?'", lambda _: f"'{part}'", text)  # the kernel counts its products
    return _plain_header(named_text, name)


def _plain_header(text: str, name: str) -> str:
    """The kernel's header stamps time and its own name; ours says the part and repeats."""
    from flatgen import __version__

    start, end = text.index("FILE_NAME("), text.index("FILE_SCHEMA(")
    part = _step_string(name)
    made_by = f"flatgen {__version__}"
    header = f"FILE_NAME('{part}','2000-01-01T00:00:00',(''),(''),'{made_by}','{made_by}','');\n"
    return text[:start] + header + text[end:]


def _step_string(text: str) -> str:
    """Text as ISO 10303-21 writes it: quotes doubled, other than ASCII as \\X2\\ or \\X4\\ code points."""
    out = []
    for sign in text:
        code = ord(sign)
        if sign in "'\\":
            out.append(sign * 2)
        elif 32 <= code < 127:
            out.append(sign)
        elif code < 0x10000:
            out.append(f"\\X2\\{code:04X}\\X0\\")
        else:
            out.append(f"\\X4\\{code:08X}\\X0\\")
    return "".join(out)
