"""The interpreter's garbage collector, kept from needless work while a command runs."""

from __future__ import annotations

import atexit
import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def gc_paused() -> Iterator[None]:
    """No search for cycles: a part makes many small objects and no cycles, and ends soon."""
    was_enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_enabled:
            gc.enable()


def skip_gc_at_exit() -> None:
    """No search for cycles when the interpreter ends, since everything goes then."""
    atexit.register(gc.freeze)
