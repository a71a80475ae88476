"""Whether drawings on disk were made from another state of a definition, of the shop file, or of the log of strips."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from flatgen.bend_order.plan import make_plan
from flatgen.brake.creases import creases_of_profile
from flatgen.brake.read_shop import find_shop, read_shop
from flatgen.core.errors import Finding, InputRefused
from flatgen.core.learned import ExpectedPart
from flatgen.definition.closed_form import develop
from flatgen.definition.model import Profile
from flatgen.definition.reader import read_profile
from flatgen.jobs.draw import refuse_step
from flatgen.metal.metals import Metal
from flatgen.strips.learning.apply import corrections_for
from flatgen.strips.learning.knowledge import log_digest, shop_log


def outdated_findings(profile: Profile, folder: Path) -> tuple[Finding, ...]:
    """A note where ``NAME.json`` in a folder was made from another state of the definition.

    A file that is not ours, or not there, says nothing.
    """
    path = folder / f"{profile.name}.json"
    try:
        record = json.loads(path.read_text("utf-8"))
        made_from = record["fingerprint"]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return ()
    if made_from == profile.fingerprint:
        return _other_shop(profile, path, record)
    text = f"it was made from another state of the definition (fingerprint {made_from}, now {profile.fingerprint})"
    return (Finding("FG107", "note", path.as_posix(), text, "draw it again before anything is cut from it"),)


def _other_shop(profile: Profile, path: Path, record: dict[str, Any]) -> tuple[Finding, ...]:
    """A note where the shop file that sight lines were made for is another by now."""
    try:
        shop = record["schedule"]["shop"]
        file, before = str(shop["file"]), str(shop["fingerprint"])
    except (KeyError, TypeError):
        return ()
    path_now = find_shop(Path(profile.path).parent)
    if path_now is None or path_now.name != file:
        return ()  # named on the command line then
    try:
        now = read_shop(path_now).fingerprint
    except InputRefused:
        now = "cannot be read"
    if now == before:
        return _other_strips(path, path_now, str(record["schedule"]["shop"].get("strips", "")))
    text = f"its sight lines were made for another state of {file} (fingerprint {before}, now {now})"
    return (Finding("FG107", "note", path.as_posix(), text, "draw it again before a line is marked"),)


def _other_strips(path: Path, shop: Path, before: str) -> tuple[Finding, ...]:
    """A note where the log of strips has others in force by now."""
    try:
        now = log_digest(shop_log(read_shop(shop)))
    except InputRefused:
        now = "cannot be read"
    if now == before:
        return ()
    text = (
        f"it was made with other strips than the log has now (fingerprint {before or 'of none'}, now {now or 'none'})"
    )
    return (Finding("FG107", "note", path.as_posix(), text, "draw it again before anything is cut or marked"),)


@dataclass(frozen=True)
class CheckResult:
    """A definition as ``check`` sees it: with measured allowances where strips told, and how it will come out."""

    profile: Profile
    findings: tuple[Finding, ...]
    expected: ExpectedPart | None


def check_definition(path: Path, metals: Mapping[str, Metal]) -> CheckResult:
    """Read a definition, and ask the strips of the shop found beside it or above, if there are any.

    :returns: sizes in [mm]; as the definition says where there is no strip
    :raises InputRefused: Whatever cannot be used; a shop file that cannot be read only where an allowance is asked of
        strips
    """
    with refuse_step(path):
        profile = read_profile(path, dict(metals), known={})
    shop_file = find_shop(path.parent)
    from_strips = any(b.allowance_source == "asked" for b in profile.bends)
    try:
        shop = None if shop_file is None else read_shop(shop_file)
        known = corrections_for(path, profile, metals, shop)
    except InputRefused:
        if from_strips:
            raise
        return CheckResult(profile, (), None)
    if known is None:
        return CheckResult(profile, (), None)
    creases = known.correct_creases(creases_of_profile(known.profile, develop(known.profile)))
    schedule = known.complete(make_plan(known.profile, creases, known.shop).schedule)
    return CheckResult(known.profile, known.findings, schedule.expected)
