"""Forms of strips: written ready to fill, read from whoever filled them, every fault with its line.

Sizes that are expected are worked out by hand beside each case.
"""

from __future__ import annotations

import math
import random
import tempfile
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from flatgen.core.errors import InputRefused
from flatgen.paper.strip_sheets.form_text import form_text
from flatgen.strips import words as strip_words
from flatgen.strips.form import Form, read_form
from flatgen.strips.questions import questions
from flatgen.strips.reading import BendReading, LegReading, StripReading
from tests.paper.strip_sheets.strip_samples import QUARTER, angle_strip, sample
from tests.untrusted import mutants


def read(folder: Path, text: str) -> Form:
    path = folder / "form.toml"
    path.write_text(text, encoding="utf-8")
    return read_form(path)


def both(count: int) -> list[object]:
    """Seeds: a tenth in the normal run, all of them in the thorough one."""
    seeds: list[object] = list(range(count // 10))
    return seeds + [pytest.param(s, marks=pytest.mark.thorough) for s in range(count // 10, count)]


FORM = form_text([angle_strip()], order=("A",))


def filled(**values: str) -> str:
    """The form with some keys given a value, each at its first place."""
    text = FORM
    for key, value in values.items():
        start = text.index(f"\n{key} = ") + 1
        text = f"{text[:start]}{key} = {value}{text[text.index(chr(10), start) :]}"
    return text


def test_a_fresh_form_is_read_as_it_was_planned(tmp_path: Path) -> None:
    found = read(tmp_path, FORM)
    assert found == Form((angle_strip(),), ())


def test_what_is_to_be_measured_is_an_empty_text() -> None:
    strip = tomllib.loads(FORM)["strip"][0]
    assert {k for k, v in strip.items() if v == ""} == {
        "sheet", "grain", "date", "thickness", "blank_got", "note", "part", "shop",
    }  # fmt: skip
    assert [{k for k, v in leg.items() if v == ""} for leg in strip["leg"]] == [{"got"}, {"got"}]
    assert {k for k, v in strip["bend"][0].items() if v == ""} == {"angle_set", "angle_got", "radius_got", "place"}


def test_a_filled_form_is_read_in_whatever_unit(tmp_path: Path) -> None:
    """By hand: 1.19 in = 30.226 mm; 1 37/64 in = 40.084375 mm; 0.040 in = 1.016 mm; 5/64 in = 1.984375 mm."""
    text = filled(
        thickness='"0.040 in"', sheet='"batch 7"', grain='"Across"', date="2026-05-01", note='"second try"',
        angle_set='"93 1/2°"', angle_got="89.5", radius_got='"5/64 in"', place='" LEFT "', sight="28.6",
        blank_got='"67.8"',
    )  # fmt: skip
    text = text.replace('got = "" ', 'got = "1.19 in" ', 1)
    end = text.rindex('got = ""')
    text = f'{text[:end]}got = "1 37/64 in"{text[end + 8 :]}'
    strip = read(tmp_path, text).readings[0]
    assert (strip.thickness, strip.sheet, strip.grain) == (1.016, "batch 7", "across")
    assert (strip.date, strip.note, strip.blank_got) == ("2026-05-01", "second try", 67.8)
    assert [leg.got for leg in strip.legs] == [30.226, 40.084375]
    bend = strip.bends[0]
    assert (bend.set, bend.got, bend.radius, bend.place, bend.sight) == (93.5, 89.5, 1.984375, "left", 28.6)


def test_plain_numbers_are_in_the_unit_of_the_form(tmp_path: Path) -> None:
    text = form_text([angle_strip()], unit="in").replace('thickness = ""', "thickness = 0.04")
    assert read(tmp_path, text).readings[0].thickness == 1.016
    with pytest.raises(InputRefused, match="has no unit"):
        read(tmp_path, text.replace('units = "in"', ""))


@given(st.integers(0, 10_000))
def test_any_reading_is_written_and_read_back(seed: int) -> None:
    reading = sample(seed)
    with tempfile.TemporaryDirectory() as folder:
        assert read(Path(folder), form_text([reading])).readings == (reading,)


def test_several_strips_share_a_form(tmp_path: Path) -> None:
    readings = (angle_strip("one"), sample(3), angle_strip("two"), sample(9))
    assert read(tmp_path, form_text(readings)).readings == readings
    copied = FORM + FORM[FORM.index("\n[[strip]]") :]
    with pytest.raises(InputRefused, match='strip "angle 1" is there twice') as refused:
        read(tmp_path, copied)
    assert f"form.toml:{FORM.count(chr(10)) + 2}:" in refused.value.faults[0].where
    renamed = copied[::-1].replace('"1 elgna"', '"2 elgna"', 1)[::-1]
    assert [r.name for r in read(tmp_path, renamed).readings] == ["angle 1", "angle 2"]


def test_names_of_strangers_do_no_harm(tmp_path: Path) -> None:
    """Quotes, backslashes, marks of comments and ends of lines in names stay names, in values and in comments."""
    odd = 'a"b\\c # [x] \u2028\x7f\n=é'
    legs = tuple(replace(leg, name=f"{odd}{n}") for n, leg in enumerate(angle_strip().legs))
    strip = read(tmp_path, form_text([angle_strip(odd, legs=legs)])).readings[0]
    assert strip.name == 'a"b\\c # [x] ???=é'
    assert [leg.name for leg in strip.legs] == ['a"b\\c # [x] ???=é0', 'a"b\\c # [x] ???=é1']


@pytest.mark.parametrize(
    ("changes", "codes", "told"),
    [
        ({"thickness": "-1"}, "FG012", "negative"),
        ({"thickness": "nan"}, "FG012", "not finite"),
        ({"thickness": "inf"}, "FG012", "not finite"),
        ({"thickness": '"1 kg"'}, "FG010", "unknown unit"),
        ({"thickness": "true"}, "FG005", "number"),
        ({"thickness": "[1]"}, "FG005", "number"),
        ({"thickness": '"1,02"'}, "FG011", "1.02"),
        ({"thickness": "400"}, strip_words.IMPOSSIBLE, "25.000 mm"),
        ({"thickness": "1e300"}, "FG012", "too large"),
        ({"angle_got": "200"}, strip_words.IMPOSSIBLE, "180 deg"),
        ({"angle_got": "0"}, strip_words.IMPOSSIBLE, "0.05 deg"),
        ({"angle_got": '"90 mm"'}, "FG013", "no angle"),
        ({"angle_set": "-3"}, "FG013", "negative"),
        ({"sight": '"-5 mm"'}, "FG012", "negative"),
        ({"nose_setting": '"900 mm"'}, strip_words.IMPOSSIBLE, "200.000 mm"),
        ({"place": '"top"'}, "FG005", '"middle"'),
        ({"grain": '"up"'}, "FG005", '"across"'),
        ({"date": "[3]"}, "FG005", "text"),
        ({"name": '""'}, "FG005", "no name"),
        ({"metal": '" "'}, "FG005", "no name"),
        ({"held": '"lip"'}, "FG033", 'beside it are "short leg" and "long leg"'),
        ({"way": '"left"'}, "FG005", '"down"'),
        ({"blank": '""'}, "FG004", "left out"),
        ({"allowance": '""'}, "FG004", "left out"),
        ({"dimensions": '"outside"'}, "FG005", '"overall"'),
        ({"inside_radius": '"٣ mm"'}, "FG010", "characters"),
    ],
)
def test_what_cannot_be_is_refused_with_line_and_remedy(
    tmp_path: Path, changes: dict[str, str], codes: str, told: str
) -> None:
    text = filled(**changes)
    key = next(iter(changes))
    line = next(n for n, row in enumerate(text.splitlines(), 1) if row.startswith(f"{key} = "))
    with pytest.raises(InputRefused) as refused:
        read(tmp_path, text)
    fault = next(f for f in refused.value.faults if f"form.toml:{line}: " in f.where)
    assert fault.where.endswith(f".{key}")
    assert fault.code == codes
    assert told in f"{fault.text} {fault.remedy}"
    assert fault.remedy


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    text = filled(thickness="-1", angle_got="200", place='"top"', held='"lip"', sight="nan", name='""')
    text = text.replace("width =", "widht =") + "\n[[strip]]\nname = 3\n"
    with pytest.raises(InputRefused) as refused:
        read(tmp_path, text)
    told = " ".join(f"{f.where} {f.text} {f.remedy}" for f in refused.value.faults)
    for key in ("thickness", "angle_got", "place", "held", "sight", "name", 'did you mean "width"', "strip[1].leg"):
        assert key in told, told


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "missing"),
        ("strip = 3", "list"),
        ("strip = []", "at least 1"),
        ("strip = [3]", "no table"),
        ("[strip]\nname = 3", "list"),
        ("[[strip]]\nleg = 3\nbend = {}", "list"),
        (FORM[: FORM.rindex("[[strip.leg]]")], "1 legs and 1 bends"),
        (FORM.replace('name = "long leg"', 'name = "short leg"'), "is there twice"),
        (FORM.replace("[[strip.bend]]", "[strip.bend]"), "list"),
        (FORM.replace("angle = 90", "angle = 180").replace('"overall"', '"mould-line"'), "no mould-line size"),
        ("x = " + "[" * 3000, "nested"),
        ("[[strip]]\n" * 300, "200"),
    ],
)
def test_forms_that_are_none(tmp_path: Path, text: str, told: str) -> None:
    with pytest.raises(InputRefused) as refused:
        read(tmp_path, text)
    assert any(told in f"{f.text} {f.remedy}" for f in refused.value.faults), str(refused.value)


def test_huge_files_and_no_files(tmp_path: Path) -> None:
    (tmp_path / "large.toml").write_bytes(b"#" * 2_000_000)
    (tmp_path / "raw.toml").write_bytes(b"\xff\xfe\x00")
    for name in ("large.toml", "raw.toml", "none.toml", "."):
        with pytest.raises(InputRefused) as refused:
            read_form(tmp_path / name)
        assert refused.value.faults[0].code == "FG001"


@pytest.mark.parametrize("seed", both(3000))
def test_mutated_forms_are_read_or_refused(seed: int, tmp_path: Path) -> None:
    """Never anything but an answer or faults, each with a place, a remedy and one printable line."""
    rng = random.Random(seed)
    base = form_text([sample(seed % 40), sample(1000 + seed % 40)], order=("A", "B"))
    path = tmp_path / "form.toml"
    path.write_bytes(mutants.mutated(base.encode(), rng))
    try:
        found = read_form(path)
    except InputRefused as refused:
        for fault in refused.faults:
            assert fault.where.startswith(str(path))
            assert fault.text.isprintable()
            assert fault.remedy.isprintable()
        return
    for reading in found.readings:
        numbers = [reading.nominal, reading.width, reading.blank, *(leg.asked for leg in reading.legs)]
        numbers += [v for b in reading.bends for v in (b.angle, b.inside_radius, b.allowance, b.arm, b.loss)]
        assert all(math.isfinite(v) for v in numbers)
        assert all(b.held in ("first", "second") for b in reading.bends)
    assert all(f.text.isprintable() and f.remedy for f in found.findings)


# where calliper and protractor are put


def spoken(reading: StripReading) -> list[str]:
    """Comments over the tables of legs and bends."""
    rows = form_text([reading], order=tuple(b.label for b in reading.bends)[::-1]).splitlines()
    return [rows[n - 1] for n, row in enumerate(rows) if row in ("[[strip.leg]]", "[[strip.bend]]")]


def test_the_comments_say_where_to_measure() -> None:
    """A square bend is measured from the other leg's face, a closed one from where the curve reaches farthest, an open
    one from where the outer faces cross: common practice, no source."""
    base = angle_strip().bends[0]
    legs = tuple(LegReading(n, s, "overall") for n, s in (("lip", 20.0), ("web", 60.0), ("wall", 50.0), ("edge", 9.0)))
    bends = (base, replace(base, label="B", angle=120.0), replace(base, label="C", angle=45.0))
    assert spoken(angle_strip(legs=legs, bends=bends)) == [
        "# Leg lip: calliper from free edge to outer face of web",
        "# Bend A, up, number 3 in the order of bending: protractor on the outer faces, beside the curve; "
        "90 deg between the legs",
        "# Leg web: calliper from outer face of lip to outside of bend B",
        "# Bend B, up, number 2 in the order of bending: protractor on the outer faces, beside the curve; "
        "60 deg between the legs",
        "# Leg wall: end traced on card, outside of bend B to crossing at bend C",
        "# Bend C, up, number 1 in the order of bending: end traced on card, then the protractor",
        "# Leg edge: end traced on card, crossing at bend C to free edge",
    ]


def test_long_legs_take_a_rule_and_inside_sizes_inner_jaws() -> None:
    legs = (LegReading("long", 400.0, "overall"), LegReading("pocket", 40.0, "inside"))
    first, _, last = spoken(angle_strip(legs=legs))
    assert first == "# Leg long: steel rule from free edge to outer face of pocket"
    assert last == "# Leg pocket: inner jaws of the calliper, inner face at bend A to free edge"


# numbers that contradict one another


def measured(
    first: float | None, second: float | None, bend: dict[str, Any] | None = None, **more: object
) -> StripReading:
    plain = angle_strip()
    legs = (replace(plain.legs[0], got=first), replace(plain.legs[1], got=second))
    return angle_strip(legs=legs, bends=(replace(plain.bends[0], **(bend or {})),), **more)


def asked(reading: StripReading) -> list[str]:
    return [f.text for f in questions(reading)]


def test_a_true_strip_is_not_questioned() -> None:
    """By hand with K 0.40 and r 2.0: blank 67.77 and two setbacks of 3 less the allowance of 3.77 make legs of 70.00
    together; placed 0.4 mm off they are 30.4 and 39.6."""
    assert asked(measured(30.4, 39.6, {"got": 90.0, "set": 93.0, "radius": 2.0}, thickness=1.0)) == []
    assert asked(measured(30.4, None)) == []
    assert asked(angle_strip()) == []


def test_a_sum_that_contradicts_the_blank_is_questioned() -> None:
    """By hand: 33 + 40 = 73 is 3 more than 70. The most is with K 0.2, r 2.3 at 90 degrees: setbacks of 2 x 3.3 less
    an allowance of (pi/2)(2.3 + 0.2) more than the blank, and 2 x 0.4 + 0.5 mm for reading."""
    found = questions(measured(33.0, 40.0, {"got": 90.0, "radius": 2.0}))
    assert [f.severity for f in found] == ["caution"]
    assert "add up to 73.0 mm" in found[0].text
    assert "67.8 mm" in found[0].text
    most = 67.769911 + 2 * 3.3 - QUARTER * 2.5 + 1.3
    assert f"to {most:.1f} mm" in found[0].text
    assert found[0].remedy == strip_words.READ_LEGS
    assert asked(measured(33.0, 37.0, {"got": 90.0, "radius": 2.0})) == [], (
        "a bend placed 3 mm off is no slip of the eye"
    )


def test_digits_that_changed_places_are_questioned_by_name() -> None:
    """38 for 83: by hand the leg of 30 can lie at most 2.5 mm and what its bend may use otherwise from its size."""
    found = questions(measured(30.0, 4.0))
    assert any(
        text.startswith("long leg measured as 4.0 mm") and "(asked 40.0 mm" in text
        for text in asked(measured(30.0, 4.0))
    )
    assert all(f.remedy for f in found)
    assert any(text.startswith("short leg measured as 80.0 mm") for text in asked(measured(80.0, None)))


def test_a_leg_that_cannot_be_is_questioned() -> None:
    """By hand: r at least 1.2, t 1, 85 degrees (neither was measured): setback 2.2 tan 42.5 = 2.02 mm."""
    text = asked(measured(1.5, None))[0]
    assert "is not longer than its setbacks at bend A, 2.0 mm" in text


@pytest.mark.parametrize(
    ("bend", "told", "remedy"),
    [
        ({"got": 60.0}, "angle measured as 60 deg, asked 90 deg", strip_words.READ_AGAIN),
        ({"got": 92.0, "set": 88.0}, "metal springs back, not on", strip_words.READ_AGAIN),
        ({"got": 80.0, "set": 130.0}, "50 deg of springback", strip_words.READ_AGAIN),
        ({"radius": 0.8}, "less than that of the nose, 1.5 mm", strip_words.READ_AGAIN),
        ({"radius": 7.0}, "measured as 7.0 mm (0.276 in), asked 2.0 mm", strip_words.READ_AGAIN),
        ({"sight": 39.3}, "39.3 mm (1.547 in) from the edge on the side of short leg", strip_words.Q_OTHER_EDGE),
        ({"sight": 20.0}, "reckoned 28.5 mm", strip_words.READ_AGAIN),
    ],
)  # fmt: skip
def test_numbers_of_a_bend_are_questioned(bend: dict[str, Any], told: str, remedy: str) -> None:
    """The sight line by hand: 27 mm of flat and a nose of 1.5 mm; 67.8 - 28.5 = 39.3 from the other edge."""
    found = questions(measured(None, None, bend))
    assert [f.severity for f in found] == ["caution"]
    assert told in found[0].text
    assert found[0].remedy == remedy


def test_the_angle_between_the_legs_in_place_of_the_bend_angle_is_recognised() -> None:
    """A bend of 45 leaves 135 between its legs."""
    bend = replace(angle_strip().bends[0], angle=45.0, got=135.0)
    found = questions(angle_strip(bends=(bend,)))
    assert strip_words.Q_OPENING in [f.remedy for f in found]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"thickness": 1.3}, "thickness measured as 1.300 mm (0.051 in), bought as 1.000 mm"),
        ({"blank_got": 77.8}, "they differ by 10.0 mm"),
        ({"blank": 68.5}, "legs asked less deductions come to 67.770 mm, the blank is 68.500 mm"),
    ],
)
def test_numbers_of_the_blank_are_questioned(changes: dict[str, Any], told: str) -> None:
    assert any(told in text for text in asked(measured(None, None, **changes)))


def test_questions_stand_at_their_line(tmp_path: Path) -> None:
    text = filled(thickness="1.4", radius_got="0.5")
    found = read(tmp_path, text)
    rows = text.splitlines()
    lines = [int(f.where.split("form.toml:")[1].split(":")[0]) for f in found.findings]
    assert [rows[n - 1].split(" ")[0] for n in lines] == ["thickness", "radius_got"]
    assert all("'angle 1'" in f.where for f in found.findings)


@pytest.mark.parametrize("seed", both(300))
def test_strips_as_a_brake_makes_them_are_not_questioned(seed: int) -> None:
    """A brake of its own: K 0.33 to 0.50, offset of 0.5 mm and placing of 0.2 mm (one sigma), angles off by 2 degrees,
    radius between nose and 1.2 of the asked; legs from outside by plane geometry, read to 0.1 mm and 0.25 degrees."""
    rng = random.Random(seed)
    reading = _bent(rng)
    assert asked(reading) == []


def _bent(rng: random.Random) -> StripReading:
    t, count = rng.uniform(0.5, 3), rng.randint(1, 4)
    r = t * rng.uniform(1, 4)
    angles = [rng.choice((45.0, 90.0, 120.0)) for _ in range(count)]
    flats = [rng.uniform(8, 60) for _ in range(count + 1)]
    k_book, k_true, nose, offset = 0.42, rng.uniform(0.33, 0.5), r * rng.uniform(0.8, 1.0), rng.gauss(0, 0.5)
    radius = min(max(r + rng.gauss(0, 0.1), nose), 1.2 * r + 0.1)

    def back(angle: float, inside: float) -> float:
        return (inside + t) * math.tan(math.radians(min(angle, 90)) / 2)

    def metal(angle: float, inside: float, k: float) -> float:
        return math.radians(angle) * (inside + k * t)

    book = [metal(a, r, k_book) for a in angles]
    asked_sizes = [f + sum(back(angles[m], r) for m in (n - 1, n) if 0 <= m < count) for n, f in enumerate(flats)]
    got = [a + rng.uniform(-2, 2) for a in angles]
    true = list(flats)
    bends = []
    for n, angle in enumerate(angles):
        used, held = metal(got[n], radius, k_true), rng.choice(("first", "second"))
        moved = -offset + rng.gauss(0, 0.2)
        one, other = (n, n + 1) if held == "first" else (n + 1, n)
        true[one] += moved
        true[other] += book[n] - used - moved
        beyond = flats[: n + 1] + book[:n] if held == "first" else flats[n + 1 :] + book[n + 1 :]
        read_angle = round((got[n] + rng.gauss(0, 0.25)) * 2) / 2
        bends.append(
            BendReading(
                "ABCD"[n], angle, "up", r, book[n], held, "plain", nose, 2.0, 20.0,
                sight=round(sum(beyond) + nose, 1), set=got[n] * 1.03 + 0.5, got=read_angle,
                radius=round(radius, 1) if rng.random() < 0.5 else None,
            )
        )  # fmt: skip
    sizes = [f + sum(back(got[m], radius) for m in (n - 1, n) if 0 <= m < count) for n, f in enumerate(true)]
    legs = tuple(
        LegReading(f"leg {n}", a, "overall", round(s + rng.gauss(0, 0.1), 1) if rng.random() < 0.9 else None)
        for n, (a, s) in enumerate(zip(asked_sizes, sizes, strict=True))
    )
    return StripReading(
        "strip",
        "DC01",
        t,
        round(t * rng.uniform(0.97, 1.03), 2),
        30.0,
        sum(flats) + sum(book),
        None,
        legs,
        tuple(bends),
    )


def test_the_hand_case_of_this_file_adds_up() -> None:
    """30 + 40 less twice the setback of 3 plus (pi/2)(2 + 0.4)."""
    assert angle_strip().blank == pytest.approx(64 + QUARTER * 2.4, abs=1e-6)
