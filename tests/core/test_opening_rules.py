"""The shop rules as a file changes them. Expected values by hand."""

from __future__ import annotations

import re
from typing import Any

import pytest

from flatgen.core.opening_rules import default_rules, default_table, read_rules
from tests.places import ROOT

README = (ROOT / "README.md").read_text("utf-8")


@pytest.mark.parametrize(
    ("key", "value", "size"),
    [
        ("web", "3 t", 4.5),
        ("web", "1 1/2 T", 2.25),
        ("web", "3mm", 3.0),
        ("web", "1/8 in", 3.175),
        ("web", "off", 0.0),
        ("web", 0, 0.0),
        ("web", 4, 4.0),
        ("rivet_edge", "2.5 d", 8.0),
        ("rivet_spacing", "10 mm", 10.0),
    ],
)
def test_a_value_is_read(key: str, value: Any, size: float) -> None:
    rules, faults = read_rules({key: value}, "mm")
    assert faults == []
    assert rules.limit(key).size(1.5, 3.2) == pytest.approx(size, abs=1e-12)
    others = [limit for limit in rules.limits if limit.key != key]
    assert others == [limit for limit in default_rules().limits if limit.key != key]


BAD = [True, None, [], {}, "", "x", "t", "2 d", "-1 t", -1, "1e9 t", "2,5 mm", float("nan"), float("inf"), 10**400]
BAD += ["2 t t", "5000 t", "20 swg", "1/0 t", "9" * 5000 + " t", "2 km"]


@pytest.mark.parametrize("value", BAD, ids=range(len(BAD)))
def test_a_bad_value_is_a_fault_and_the_default_stays(value: Any) -> None:
    rules, faults = read_rules({"web": value}, "mm")
    assert [(key, code) for key, code, _, _ in faults] == [("web", "FG027")]
    assert all(text and remedy for _, _, text, remedy in faults)
    assert rules == default_rules()


def test_an_unknown_rule_is_named_and_the_near_one_offered() -> None:
    _, faults = read_rules({"wep": "2 t", "\x00" * 9: 1}, None)
    assert [code for _, code, _, _ in faults] == ["FG003", "FG003"]
    assert "web" in faults[0][3]


def test_the_readme_shows_the_table() -> None:
    rows = re.findall(r"^\| `(\w+)` \| `\"(\d \w)\"` \| (.*) \| (.*) \|$", README, re.MULTILINE)
    assert rows == [(k, r["value"], r["measure"], r["source"]) for k, r in default_table().items()]
