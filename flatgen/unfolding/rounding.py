"""Sharp corners rounded by the kernel, to the radius that the metal will be bent to. Touches the kernel."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from flatgen.core.errors import Fault, InputRefused
from flatgen.unfolding.sharp import Corner


def rounded(shape: Any, corners: Sequence[Corner], radius: float, thickness: float) -> Any:
    """A solid whose sharp corners are bends: outside sizes stay, the inside gets ``radius`` [mm].

    Parameters
    ----------
    shape : kernel solid
    corners : sequence of Corner
        With the numbers of their edges as ``read_shell`` counts them.
    radius, thickness : float [mm]

    Raises
    ------
    InputRefused
        FG046 where the kernel cannot round them.
    """
    from OCP.BRepFilletAPI import BRepFilletAPI_MakeFillet
    from OCP.TopAbs import TopAbs_EDGE, TopAbs_SOLID
    from OCP.TopExp import TopExp, TopExp_Explorer
    from OCP.TopoDS import TopoDS
    from OCP.TopTools import TopTools_IndexedMapOfShape

    edges = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_EDGE, edges)
    for inner, size in ((True, radius), (False, radius + thickness)):
        if size <= 0.0:
            continue
        try:
            maker = BRepFilletAPI_MakeFillet(shape)
            for corner in corners:
                for number in corner.inner if inner else corner.outer:
                    maker.Add(size, TopoDS.Edge_s(edges.FindKey(number)))
            maker.Build()
            done = maker.IsDone() and TopExp_Explorer(maker.Shape(), TopAbs_SOLID).More()
        except Exception as error:  # the kernel's own kinds of failure
            raise _failed(corners, radius) from error
        if not done:
            raise _failed(corners, radius)
        if inner:
            edges = _followed(maker, edges, corners)
        shape = maker.Shape()
    return TopExp_Explorer(shape, TopAbs_SOLID).Current()


def sharpened(shape: Any, faces: Sequence[int]) -> Any:
    """A solid without some round faces: the flats beside them meet in sharp edges.

    Raises
    ------
    InputRefused
        FG046 where the kernel cannot.
    """
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Defeaturing
    from OCP.TopAbs import TopAbs_FACE, TopAbs_SOLID
    from OCP.TopExp import TopExp, TopExp_Explorer
    from OCP.TopTools import TopTools_IndexedMapOfShape

    known = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_FACE, known)
    maker = BRepAlgoAPI_Defeaturing()
    maker.SetShape(shape)
    for face in faces:
        maker.AddFaceToRemove(known.FindKey(face + 1))
    maker.Build()
    found = TopExp_Explorer(maker.Shape(), TopAbs_SOLID) if maker.IsDone() else None
    if found is None or not found.More():
        text = f"{len(faces)} round faces next to sharp corners cannot be taken away to give them another radius"
        remedy = "leave --inside-radius out: the bends are then taken as they are modelled"
        raise InputRefused(Fault("FG046", "the solid", text, remedy))
    return found.Current()


def _followed(maker: Any, edges: Any, corners: Sequence[Corner]) -> Any:
    """The edges as they are after a first rounding, under their old numbers."""
    from OCP.TopTools import TopTools_IndexedMapOfShape

    found = TopTools_IndexedMapOfShape()
    wanted = {n for c in corners for n in c.outer}
    for number in range(1, edges.Extent() + 1):
        edge = edges.FindKey(number)
        if number in wanted:
            after = maker.Modified(edge)
            edge = after.First() if after.Extent() else edge
        found.Add(edge)
    return found


def _failed(corners: Sequence[Corner], radius: float) -> InputRefused:
    place = ", ".join(f"{axis} {c:.2f}" for axis, c in zip("xyz", corners[0].place, strict=True))
    return InputRefused(
        Fault(
            "FG046",
            f"the corner at {place}",
            f"no inside radius of {radius:.3f} mm fits here: an edge, opening or other corner lies too near, "
            "or one of the two legs runs on beside the corner without a relief",
            "model this corner with its bend, inner and outer radius, and a relief beside it",
        )
    )
