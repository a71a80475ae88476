"""Lines of keys in TOML text; expected lines counted by hand."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flatgen.definition.toml.document import key_lines, key_place, key_text

TEXT = '''# a comment with "quotes" and = signs [ {
metal = "6061 # no comment"   # one
"in side".radius = 3
note = """
many = 1
lines \\""" still
"""
raw = \'\'\'
x = [1
\'\'\'
section = [ # here
  { leg = "4'2\\"", name = 'a, b } ]' },
  { bend = 90,
    way = "up" }, # TOML 1.0 has no line ends here, later versions do
  [ 1, [2,
    3] ],
]
[shop]
brake.nose = { radius = 1, at = [1, 2] }
[[cut]]
x = 1
[[cut]]
x = 2
  [[cut.hole]]
  y = 1
[cut.note]
text = "z"
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("metal",), 2),
        (("in side", "radius"), 3),
        (("note",), 4),
        (("raw",), 8),
        (("section",), 11),
        (("section", 0, "leg"), 12),
        (("section", 0, "name"), 12),
        (("section", 1), 13),
        (("section", 1, "bend"), 13),
        (("section", 1, "way"), 14),
        (("section", 2, 1, 1), 16),
        (("shop",), 18),
        (("shop", "brake", "nose", "at", 1), 19),
        (("cut", 0, "x"), 21),
        (("cut", 1, "x"), 23),
        (("cut", 1, "hole", 0, "y"), 25),
        (("cut", 1, "note", "text"), 27),
    ],
)
def test_lines_counted_by_hand(path: tuple[str | int, ...], line: int) -> None:
    assert key_lines(TEXT)[path] == line


def test_line_ends_of_windows() -> None:
    assert key_lines("a = 1\r\n\r\nb = [\r\n 1,\r\n 2 ]\r\n")[("b", 1)] == 5


def test_place_falls_back_to_what_is_around() -> None:
    lines = {("section",): 3, ("section", 2): 7}
    assert key_place("a.toml", lines, ("section", 2, "leg")) == "a.toml:7: section[2].leg"
    assert key_place("a.toml", lines, ("section", 9, "leg")) == "a.toml:3: section[9].leg"
    assert key_place("a.toml", lines, ("metal",)) == "a.toml: metal"
    assert key_place("a.toml", lines, ()) == "a.toml"
    assert key_text(("a\nb", 0)) == "a?b[0]"


SCALARS = st.one_of(st.integers(-99, 99), st.booleans(), st.text(max_size=6))
KEYS = st.text(st.characters(codec="ascii"), max_size=5)
TREES = st.recursive(SCALARS, lambda t: st.lists(t, max_size=3) | st.dictionaries(KEYS, t, max_size=3), max_leaves=8)


def _quoted(text: str) -> str:
    return '"' + "".join(c if c.isalnum() else f"\\U{ord(c):08X}" for c in text) + '"'


def _written(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_quoted(k)} = {_written(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[\n" + "".join(f"{_written(v)},\n" for v in value) + "]"
    return _quoted(value) if isinstance(value, str) else str(value).lower()


def _paths(value: Any, path: tuple[str | int, ...] = ()) -> set[tuple[str | int, ...]]:
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return {path}.union(*(_paths(v, (*path, k)) for k, v in items))


@settings(derandomize=True, max_examples=80, deadline=None)
@given(st.dictionaries(KEYS, TREES, max_size=4))
def test_every_key_of_any_table_is_found(data: dict[str, Any]) -> None:
    text = "".join(f"{_quoted(k)} = {_written(v)}\n" for k, v in data.items())
    assert tomllib.loads(text) == data
    assert set(key_lines(text)) == _paths(data) - {()}


@settings(derandomize=True, max_examples=150, deadline=None)
@given(st.text(st.sampled_from("ab=.[]{}\"'\\#, \n1"), max_size=40))
def test_never_raises(text: str) -> None:
    assert all(1 <= line <= text.count("\n") + 2 for line in key_lines(text).values())


def test_deep_nesting_does_not_raise() -> None:
    assert key_lines("a = " + "[" * 100_000)[("a",)] == 1
