"""The one typeface of all drawings, and how wide a text runs in it.

ezdxf looks for typefaces on the whole machine when it is first imported, and keeps a list in the user's
home. A drawing must not depend on what a machine has, so ezdxf is imported only through :func:`lettering`,
which hands it a list of one: the DejaVu Sans that the matplotlib package carries. Nothing is scanned or
written outside of a temporary folder. Import it before anything else that imports ezdxf (CadQuery does).
"""

from __future__ import annotations

import functools
import importlib
import importlib.util
import json
import os
import sys
import tempfile
from pathlib import Path
from typing import Any

FILE = "DejaVuSans.ttf"
LACKING_FROM = "\u0180"
"""The typeface has all that is printable before this character."""


@functools.cache
def font_file() -> Path:
    """Where the typeface lies, found without importing matplotlib.

    Raises
    ------
    FileNotFoundError
        If the matplotlib package is not there, or lacks the file.
    """
    spec = importlib.util.find_spec("matplotlib")
    for folder in (spec.submodule_search_locations or []) if spec else []:
        found = Path(folder) / "mpl-data" / "fonts" / "ttf" / FILE
        if found.is_file():
            return found
    raise FileNotFoundError(f"{FILE} of the matplotlib package: install matplotlib again")


@functools.cache
def lettering() -> Any:
    """ezdxf's module of typefaces, knowing ours and no other."""
    faces = [[str(font_file()), "DejaVu Sans", "Book", 400, 5]]
    known = json.dumps({"version": 2, "font-faces": faces})
    if "ezdxf" not in sys.modules:
        _import_with(known)
    from ezdxf.fonts import fonts

    fonts.font_manager.clear()
    fonts.font_manager.loads(known)
    return fonts


def width(text: str, height: float) -> float:
    """How far a text of capital ``height`` [mm] runs [mm]."""
    return float(_face().text_width(text)) * height


def drawable(text: str) -> str:
    """A text with a question mark for every character that the typeface lacks.

    >>> drawable("Träger 折")
    'Träger ?'
    """
    if all(c < LACKING_FROM for c in text):
        return text
    return "".join(c if c < LACKING_FROM or ord(c) in _characters() else "?" for c in text)


@functools.cache
def _characters() -> frozenset[int]:
    reader = importlib.import_module("fontTools.ttLib")
    with reader.TTFont(font_file(), lazy=True) as font:
        return frozenset(font.getBestCmap())


@functools.cache
def _face() -> Any:
    return lettering().make_font(FILE, 1.0)


def _import_with(known: str) -> None:
    """Import ezdxf with our list of typefaces, and without settings from a home that may not be readable."""
    variables = ("XDG_CACHE_HOME", "XDG_CONFIG_HOME")
    before = {v: os.environ.get(v) for v in variables}
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "ezdxf"
        place.mkdir()
        (place / "font_manager_cache.json").write_text(known, encoding="utf-8")
        os.environ.update(dict.fromkeys(variables, folder))
        try:
            importlib.import_module("ezdxf")
        finally:
            for variable, value in before.items():
                if value is None:
                    del os.environ[variable]
                else:
                    os.environ[variable] = value
