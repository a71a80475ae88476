"""flatgen: from the drawing of a bent sheet-metal part to the flat blank, cut once.

    >>> import flatgen
    >>> flatgen.__version__
    '0.1.0'

What a program needs is found here, and brings what it needs when it is first used: ``read_profile``, ``draw``,
``unfold`` and ``unfold_told``; ``InputRefused`` and ``IdentityFailed``, which are both ``FlatgenError``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from flatgen.core.version import __version__

if TYPE_CHECKING:
    from flatgen.core.errors import FlatgenError as FlatgenError
    from flatgen.core.errors import IdentityFailed as IdentityFailed
    from flatgen.core.errors import InputRefused as InputRefused
    from flatgen.definition.reader import read_profile as read_profile
    from flatgen.jobs.draw import draw as draw
    from flatgen.jobs.unfold import unfold as unfold
    from flatgen.jobs.unfold import unfold_told as unfold_told

_HOMES = {
    "FlatgenError": "flatgen.core.errors",
    "IdentityFailed": "flatgen.core.errors",
    "InputRefused": "flatgen.core.errors",
    "draw": "flatgen.jobs.draw",
    "read_profile": "flatgen.definition.reader",
    "unfold": "flatgen.jobs.unfold",
    "unfold_told": "flatgen.jobs.unfold",
}

__all__ = [
    "FlatgenError",
    "IdentityFailed",
    "InputRefused",
    "__version__",
    "draw",
    "read_profile",
    "unfold",
    "unfold_told",
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'flatgen' has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_HOMES[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES})
