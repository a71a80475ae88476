"""What the person at the bench must know of edges that are not drawn as they are on both faces."""

from __future__ import annotations

from flatgen.core.errors import Finding
from flatgen.core.flat_pattern import Differing, FlatPattern, Point
from flatgen.core.units import in_mm_and_inch

LEFT_ON = "file it back on the formed part, on the face where it stands over"


def face_findings(flat: FlatPattern) -> tuple[Finding, ...]:
    """Notes on faces that differ, curves that are drawn as arcs, and walls that are no straight ones.

    Parameters
    ----------
    flat : FlatPattern
        The flat, sizes in [mm]

    Returns
    -------
    tuple[Finding, ...]
        FG115, FG117, FG118, [-]
    """
    found = []
    if flat.outline_differs:
        text = (
            f"the two faces end at different lines: {_apart(flat.outline_differs)}. The larger outline is drawn, so "
            "that the metal is left on"
        )
        found.append(Finding("FG115", "note", "the outline", text, LEFT_ON))
    if flat.fitted:
        text = f"curves that are neither lines nor arcs are drawn as arcs, within {flat.fitted:g} mm"
        found.append(Finding("FG117", "note", "the flat", text))
    if flat.volume_outside:
        word = "less" if flat.volume_outside < 0 else "more"
        text = (
            f"the formed part has {abs(flat.volume_outside):.3g} mm3 {word} metal than straight walls between its two "
            "faces would leave: some wall is hollow or bulges"
        )
        found.append(Finding("FG118", "note", "the flat", text, "look at the edges of the formed part"))
    return tuple(found)


def _apart(gap: Differing) -> str:
    return f"up to {in_mm_and_inch(gap.largest, thickness=True)} apart near {_place(gap.at)}"


def _place(point: Point) -> str:
    x, y = (round(c, 1) + 0.0 for c in point)  # no minus before a zero
    return f"x {x:.1f}, y {y:.1f} mm"
