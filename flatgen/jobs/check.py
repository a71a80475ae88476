"""Whether drawings on disk were made from another state of a definition, of the shop file, or of the log of strips."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from flatgen.brake.read_shop import find_shop, read_shop
from flatgen.core.errors import Finding, InputRefused
from flatgen.definition.model import Profile
from flatgen.strips.learning.knowledge import digest_of, log_of


def outdated(profile: Profile, folder: Path) -> tuple[Finding, ...]:
    """A note where ``NAME.json`` in a folder was made from another state of the definition.

    A file that is not ours, or not there, says nothing.
    """
    path = folder / f"{profile.name}.json"
    try:
        made = json.loads(path.read_text("utf-8"))
        made_from = made["fingerprint"]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return ()
    if made_from == profile.fingerprint:
        return _other_shop(profile, path, made)
    text = f"it was made from another state of the definition (fingerprint {made_from}, now {profile.fingerprint})"
    return (Finding("FG107", "note", path.as_posix(), text, "draw it again before anything is cut from it"),)


def _other_shop(profile: Profile, path: Path, made: dict[str, Any]) -> tuple[Finding, ...]:
    """A note where the shop file that sight lines were made for is another by now."""
    try:
        shop = made["schedule"]["shop"]
        file, before = str(shop["file"]), str(shop["fingerprint"])
    except (KeyError, TypeError):
        return ()
    found = find_shop(Path(profile.path).parent)
    if found is None or found.name != file:
        return ()  # named on the command line then
    try:
        now = read_shop(found).fingerprint
    except InputRefused:
        now = "cannot be read"
    if now == before:
        return _other_strips(path, found, str(made["schedule"]["shop"].get("strips", "")))
    text = f"its sight lines were made for another state of {file} (fingerprint {before}, now {now})"
    return (Finding("FG107", "note", path.as_posix(), text, "draw it again before a line is marked"),)


def _other_strips(path: Path, shop: Path, before: str) -> tuple[Finding, ...]:
    """A note where the log of strips has others in force by now."""
    try:
        now = digest_of(log_of(read_shop(shop)))
    except InputRefused:
        now = "cannot be read"
    if now == before:
        return ()
    text = (
        f"it was made with other strips than the log has now (fingerprint {before or 'of none'}, now {now or 'none'})"
    )
    return (Finding("FG107", "note", path.as_posix(), text, "draw it again before anything is cut or marked"),)
