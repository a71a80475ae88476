"""The SVG of ezdxf's own backend with the same paths, written faster: most of a picture's time is its lettering.

A backend for the drawing add-on that overrides what the add-on offers for it: how a page's renderer is made. Each
coordinate is relative to the place before it, in whole units of the page, as the add-on's own are.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]

LETTERS = {1: ("l", 1), 2: ("q", 2), 3: ("c", 3), 4: ("m", 1)}
"""Letter and number of places of ezdxf's commands: line, curve of three and of four points, move."""


def backend() -> Any:
    """A new SVG backend.

    Returns
    -------
    ezdxf.addons.drawing.svg.SVGBackend
        As the add-on's own, [-]
    """
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

    Parameters
    ----------
    path : ezdxf.npshapes.NumpyPath2d
        With places in units of the page, [-]
    close : bool
        Whether it ends where it begins, [-]

    Returns
    -------
    str
        Commands with whole numbers, [-]
    """
    return _text([path], close)


def paths_text(paths: Iterable[Any]) -> str:
    """The ``d`` of closed paths, such as the letters of a line.

    Parameters
    ----------
    paths : iterable of ezdxf.npshapes.NumpyPath2d
        With places in units of the page, [-]

    Returns
    -------
    str
        Commands with whole numbers, [-]
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
