"""A document rendered once by ezdxf's drawing add-on, for all files and pages that show it, and its paths in SVG.

record    lines, a path, a filled shape or a line of lettering as the add-on draws it, in units of the document
"""

from __future__ import annotations

import copy
import functools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flatgen.paper.drawing.text import Box


@dataclass(frozen=True, eq=False)
class Recording:
    """A document and its records; ``unit``: one unit of it on paper [mm]; ``boxes``: of the records [mm]."""

    doc: Any
    player: Any = field(repr=False)
    unit: float
    boxes: tuple[Box, ...] = field(repr=False)

    def within(self, window: Box) -> Iterator[Any]:
        """Copies of the records in reach of a window [mm]."""
        x0, y0, x1, y1 = window
        for record, (left, low, right, high) in zip(self.player.records, self.boxes, strict=True):
            if left <= x1 and right >= x0 and low <= y1 and high >= y0:
                yield _copy(record)


def record_drawing(doc: Any) -> Recording:
    """Render a document; a recording comes back as it is."""
    if isinstance(doc, Recording):
        return doc
    from ezdxf.addons.drawing import Frontend, RenderContext
    from ezdxf.addons.drawing.recorder import Recorder

    recorder = Recorder()
    Frontend(RenderContext(doc), recorder, config=render_configuration()).draw_layout(doc.modelspace())
    player, unit = recorder.player(), mm_per_unit(doc)
    return Recording(doc, player, unit, _boxes(player.records, unit))


def render_configuration() -> Any:
    """How the add-on renders: white ground, dashes as lines of their own."""
    from ezdxf.addons.drawing.config import BackgroundPolicy, Configuration, LinePolicy

    return Configuration(
        background_policy=BackgroundPolicy.WHITE, line_policy=LinePolicy.ACCURATE, min_dash_length=1e-3
    )


def mm_per_unit(doc: Any) -> float:
    """One unit of a document [mm]."""
    return 1.0 if doc.header["$MEASUREMENT"] else 25.4


def shapes(record: Any) -> list[Any]:
    """The shapes with vertices that a record is made of."""
    if hasattr(record, "paths"):
        return list(record.paths)
    for name in ("points", "lines", "path"):
        if hasattr(record, name):
            return [getattr(record, name)]
    raise TypeError(f"no way to draw {type(record).__name__} on paper")


def _boxes(records: list[Any], unit: float) -> tuple[Box, ...]:
    """Box of each record [mm], all computed at once; an empty record has the origin."""
    each: list[Any] = []
    starts, total = [], 0
    for record in records:
        starts.append(total)
        own = [points for shape in shapes(record) if len(points := shape.np_vertices())] or [np.zeros((1, 2))]
        each += own
        total += sum(len(points) for points in own)
    if not each:
        return ()
    every = np.concatenate(each)[:, :2] * unit
    low, high = np.minimum.reduceat(every, starts).tolist(), np.maximum.reduceat(every, starts).tolist()
    return tuple((x0, y0, x1, y1) for (x0, y0), (x1, y1) in zip(low, high, strict=True))


def _copy(record: Any) -> Any:
    twin = copy.copy(record)
    if hasattr(record, "paths"):
        twin.paths = tuple(path.clone() for path in record.paths)
    else:
        (shape,) = shapes(record)
        name = next(n for n in ("points", "lines", "path") if hasattr(record, n))
        setattr(twin, name, shape.clone())
    return twin


Ints = NDArray[np.int64]
LETTERS = {1: ("l", 1), 2: ("q", 2), 3: ("c", 3), 4: ("m", 1)}
"""Letter and number of points of ezdxf's commands: line, curve of three and of four points, move."""


def svg_backend() -> Any:
    """A new SVG backend."""
    from ezdxf.addons.drawing.svg import SVGBackend, SVGRenderBackend

    class Renderer(SVGRenderBackend):  # type: ignore[misc]  # ezdxf's is not typed
        make_path_str = staticmethod(path_text)

        def draw_filled_paths(self, paths: Any, properties: Any) -> None:
            self.add_filling(_joint_text(paths, close=True), properties)

    class Backend(SVGBackend):  # type: ignore[misc]
        @staticmethod
        def make_backend(page: Any, settings: Any) -> Any:
            return Renderer(page, settings)

    return Backend()


def path_text(path: Any, close: bool = False) -> str:
    """The ``d`` of a path in units of the page; ``close`` it with a line to its start."""
    return _joint_text([path], close)


def _joint_text(paths: Iterable[Any], close: bool) -> str:
    """All paths computed at once: a move to each, then the steps from point to point."""
    patterns, each, before, total = [], [], [], 0
    for path in paths:
        codes = path.command_codes()
        if codes:
            pattern, steps = _pattern(tuple(codes), close)
            patterns.append(pattern)
            each.append(path.np_vertices())
            before.append(np.where(steps < 0, 0, steps + total + 1))  # point 0 is the origin, for moves
            total += len(steps)
    if not patterns:
        return ""
    points = np.concatenate([np.zeros((1, 2)), *each])
    moves = np.rint(points[1:] - points[np.concatenate(before)]).astype(np.int64)
    return " ".join(patterns) % tuple(moves.ravel().tolist())


@functools.lru_cache(maxsize=4096)
def _pattern(codes: tuple[int, ...], close: bool) -> tuple[str, Ints]:
    """A path's text without its numbers, and the index of the point that each point is relative to, -1 for none."""
    commands, before, last = ["M %d %d"], [-1], 0
    for code in codes:
        letter, count = LETTERS[code]
        commands.append(letter + " %d %d" * count)
        before += [last] * count
        last += count
    if close:
        commands.append("Z")
    return " ".join(commands), np.array(before, dtype=np.int64)
