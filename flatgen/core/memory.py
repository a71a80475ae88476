"""How the interpreter keeps house while a command runs."""

from __future__ import annotations

import atexit
import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected() -> Iterator[None]:
    """Without the interpreter's search for cycles: a part makes many small objects and no cycles, and ends soon."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def no_search_at_the_end() -> None:
    """When the interpreter ends all that there is goes at once: it need not be searched for cycles."""
    atexit.register(gc.freeze)
