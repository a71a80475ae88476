"""The SVG of ezdxf's own backend with the same paths, written faster: most of a picture's time is its lettering.

A backend for the drawing add-on that overrides what the add-on offers for it: how a page's renderer is made. Each
coordinate is relative to the place before it, in whole units of the page, as the add-on's own are.
"""

from __future__ import annotations

from typing import Any

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
    codes = path.command_codes()
    if not codes:
        return ""
    # control places of a curve come before its end
    places = path.np_vertices().tolist()
    x, y = places[0][0], places[0][1]
    said, k = [f"M {x:.0f} {y:.0f}"], 1
    for code in codes:
        letter, count = LETTERS[code]
        said.append(letter)
        for place in places[k : k + count]:
            said.append(f"{place[0] - x:.0f} {place[1] - y:.0f}")
        k += count
        x, y = places[k - 1]
    if close:
        said.append("Z")
    return " ".join(said)
