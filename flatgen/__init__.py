"""flatgen: from the drawing of a bent sheet-metal part to the flat blank, cut once.

    >>> import flatgen
    >>> flatgen.__version__
    '0.1.0'

``read_profile``, ``draw``, ``unfold`` and ``unfold_told`` are found here; each brings what it needs when it
is first used.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"
__all__ = ["__version__", "draw", "read_profile", "unfold", "unfold_told"]

if TYPE_CHECKING:
    from flatgen.definition.reader import read_profile as read_profile
    from flatgen.jobs.draw import draw as draw
    from flatgen.jobs.unfold import unfold as unfold
    from flatgen.jobs.unfold import unfold_told as unfold_told

_HOMES = {
    "draw": "flatgen.jobs.draw",
    "read_profile": "flatgen.definition.reader",
    "unfold": "flatgen.jobs.unfold",
    "unfold_told": "flatgen.jobs.unfold",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'flatgen' has no attribute {name!r}")
    from importlib import import_module

    home = import_module(_HOMES[name])
    return getattr(home, name)


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES})
