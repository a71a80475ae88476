"""A drawing as ezdxf's drawing add-on renders it: once, however many files and pages show it.

record    lines, a path, a filled shape or a line of lettering, as the add-on draws it, in units of the document
"""

from __future__ import annotations

import functools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Window: TypeAlias = tuple[float, float, float, float]
"""Left, low, right, high [mm]."""


@dataclass(frozen=True, eq=False)
class Recording:
    """A document with what it is drawn by; ``unit`` [mm]: what one of its units is on paper; ``boxes`` [mm]: what each
    record fills.
    """

    doc: Any
    player: Any = field(repr=False)
    unit: float
    boxes: tuple[Window, ...] = field(repr=False)

    def within(self, window: Window) -> Iterator[Any]:
        """Copies of the records that a window [mm] may show."""
        x0, y0, x1, y1 = window
        for record, (left, low, right, high) in zip(self.player.records, self.boxes, strict=True):
            if left <= x1 and right >= x0 and low <= y1 and high >= y0:
                yield _copy(record)


def recorded(doc: Any) -> Recording:
    """Render a document; one that is recorded already comes back as it is."""
    if isinstance(doc, Recording):
        return doc
    from ezdxf.addons.drawing import Frontend, RenderContext
    from ezdxf.addons.drawing.recorder import Recorder

    recorder = Recorder()
    Frontend(RenderContext(doc), recorder, config=configuration()).draw_layout(doc.modelspace())
    player, unit = recorder.player(), mm_per_unit(doc)
    return Recording(doc, player, unit, _boxes(player.records, unit))


def configuration() -> Any:
    """How the add-on renders: white ground, dashes as lines of their own."""
    from ezdxf.addons.drawing.config import BackgroundPolicy, Configuration, LinePolicy

    return Configuration(
        background_policy=BackgroundPolicy.WHITE, line_policy=LinePolicy.ACCURATE, min_dash_length=1e-3
    )


def mm_per_unit(doc: Any) -> float:
    """What one unit of a document is [mm]."""
    return 1.0 if doc.header["$MEASUREMENT"] else 25.4


def shapes(record: Any) -> list[Any]:
    """The shapes with places that a record is made of."""
    if hasattr(record, "paths"):
        return list(record.paths)
    for name in ("points", "lines", "path"):
        if hasattr(record, name):
            return [getattr(record, name)]
    raise TypeError(f"no way to draw {type(record).__name__} on paper")


def _boxes(records: list[Any], unit: float) -> tuple[Window, ...]:
    """What each record fills [mm], all reckoned together; a record without a place fills the origin."""
    import numpy as np

    each: list[Any] = []
    starts, total = [], 0
    for record in records:
        starts.append(total)
        own = [places for shape in shapes(record) if len(places := shape.np_vertices())] or [np.zeros((1, 2))]
        each += own
        total += sum(len(places) for places in own)
    if not each:
        return ()
    every = np.concatenate(each)[:, :2] * unit
    low, high = np.minimum.reduceat(every, starts).tolist(), np.maximum.reduceat(every, starts).tolist()
    return tuple((x0, y0, x1, y1) for (x0, y0), (x1, y1) in zip(low, high, strict=True))


def _copy(record: Any) -> Any:
    import copy

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
"""Letter and number of places of ezdxf's commands: line, curve of three and of four points, move."""


def backend() -> Any:
    """A new SVG backend."""
    from ezdxf.addons.drawing.svg import SVGBackend, SVGRenderBackend

    class Renderer(SVGRenderBackend):  # type: ignore[misc]  # ezdxf's is not typed
        make_path_str = staticmethod(path_text)

        def draw_filled_paths(self, paths: Any, properties: Any) -> None:
            self.add_filling(paths_text(paths), properties)

    class Backend(SVGBackend):  # type: ignore[misc]
        @staticmethod
        def make_backend(page: Any, settings: Any) -> Any:
            return Renderer(page, settings)

    return Backend()


def path_text(path: Any, close: bool = False) -> str:
    """The ``d`` of a path.

    :param path: with places in units of the page
    :param close: whether it ends where it begins
    """
    return _text([path], close)


def paths_text(paths: Iterable[Any]) -> str:
    """The ``d`` of closed paths, such as the letters of a line.

    :param paths: with places in units of the page
    """
    return _text(paths, True)


def _text(paths: Iterable[Any], close: bool) -> str:
    """All paths reckoned together: a move to each, then the steps from place to place."""
    said, each, before, total = [], [], [], 0
    for path in paths:
        codes = path.command_codes()
        if codes:
            words, steps = _pattern(tuple(codes), close)
            said.append(words)
            each.append(path.np_vertices())
            before.append(np.where(steps < 0, 0, steps + total + 1))  # place 0 is the origin, for moves
            total += len(steps)
    if not said:
        return ""
    places = np.concatenate([np.zeros((1, 2)), *each])
    moves = np.rint(places[1:] - places[np.concatenate(before)]).astype(np.int64)
    return " ".join(said) % tuple(moves.ravel().tolist())


@functools.lru_cache(maxsize=4096)
def _pattern(codes: tuple[int, ...], close: bool) -> tuple[str, Ints]:
    """A path's text without its numbers, and the place that each of its places is told from, -1 for none."""
    said, before, last = ["M %d %d"], [-1], 0
    for code in codes:
        letter, count = LETTERS[code]
        said.append(letter + " %d %d" * count)
        before += [last] * count
        last += count
    if close:
        said.append("Z")
    return " ".join(said), np.array(before, dtype=np.int64)
