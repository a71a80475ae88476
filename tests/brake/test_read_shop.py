"""Shop files of strangers: what is wrong is named with its line, its numbers and the remedy."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from flatgen.brake.read_shop import find_setup, find_shop, read_shop
from flatgen.core.errors import InputRefused
from flatgen.core.shop import Shop
from tests.places import ROOT

DEMO = (ROOT / "profiles" / "shop.toml").read_text("utf-8")
START = (ROOT / "flatgen" / "brake" / "start_shop.toml").read_text("utf-8")


def read(folder: Path, text: str) -> Shop:
    path = folder / "shop.toml"
    path.write_text(text, encoding="utf-8")
    return read_shop(path)


def test_the_demo_and_the_file_to_begin_from_can_be_read(tmp_path: Path) -> None:
    demo, start = read(tmp_path, DEMO), read(tmp_path, START)
    assert [s.name for s in demo.setups] == ["plain", "stiffened", "large nose"]
    assert (demo.setups[2].clamp.nose_radius, demo.setups[1].leaf.face) == (3.0, 60.0)
    assert demo.setups[1].leaf.beam is not None
    assert demo.setups[1].leaf.beam.section.ix > demo.setups[0].leaf.beam.section.ix  # type: ignore[union-attr]
    assert start.safe_clearance == 2.0
    assert start.brake.throat is None


def test_numbers_in_the_commented_lines_of_the_file_to_begin_from_can_be_read(tmp_path: Path) -> None:
    """Whoever takes the marks away gets a file that can be read: every key it names is one."""
    lines = [
        line.removeprefix("# ") if line.startswith(("# [", "# ")) and ("=" in line or "# [" in line) else line
        for line in START.splitlines()
    ]
    shop = read(tmp_path, "\n".join(line for line in lines if not line.startswith("# ")))
    assert shop.brake.stand is not None
    assert shop.brake.stand.feet_behind == 500.0
    assert shop.brake.hinge_limit == 8000.0
    assert len(shop.setups) == 2


@pytest.mark.parametrize(
    ("old", "new", "code", "told"),
    [
        ("length = 1300\n", "", "FG004", "length"),
        ("nose_radius = 1.5\n", "", "FG004", "nose_radius"),
        ("face = 26\n", "face = 0\n", "FG032", "face"),
        ("swing = 140", "swing = 0", "FG032", "swing"),
        ("swing = 140", "swing = 200", "FG032", "swing"),
        ("span = 1340", "span = 0", "FG032", "span"),
        ("length = 900", "length = -900", "FG032", "length"),
        ('effort = "400 N"', 'effort = "35 kg"', "FG010", "kgf"),
        ('weight = "40 kg"', 'weight = "400 N"', "FG010", "mass"),
        ("clamping_depth = 30", "clamping_depth = 500", "FG032", "50 mm deep"),
        ("hinge = { forward = 0, up = 0 }", "hinge = { forward = 900, up = 0 }", "FG032", "hinge"),
        ('throat = "open"', 'throat = "none"', "FG010", "throat"),
        ('name = "stiffened"', 'name = "plain"', "FG032", "plain"),
        ('name = "plain"', 'name = "plain"\nsetting = -1', "FG032", "bed"),
        ('name = "plain"', 'name = "plain"\nfingers = [700, 700]', "FG032", "1400"),
        ("lift = 60", "lift = 60\nlifft = 3", "FG003", "lifft"),
        ("units = \"mm\"\n", "", "FG010", "unit"),
        ("depth = 50", 'depth = "120 kg"', "FG010", "depth"),
        ("lift = 60", "lift = nan", "FG012", "lift"),
        ("lift = 60", "lift = true", "FG005", "lift"),
        ("thickness = 10\nspan", "thickness = 80\nspan", "FG032", "walls"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_place_and_remedy(
    tmp_path: Path, old: str, new: str, code: str, told: str
) -> None:
    assert old in DEMO
    with pytest.raises(InputRefused) as refused:
        read(tmp_path, DEMO.replace(old, new, 1))
    faults = [f for f in refused.value.faults if told in f"{f.where} {f.text} {f.remedy}"]
    assert faults, str(refused.value)
    assert {f.code for f in faults} & {code, "FG012", "FG013"}
    assert all(f.where.startswith(str(tmp_path / "shop.toml")) and f.remedy for f in refused.value.faults)


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    text = DEMO.replace("length = 1300\n", "").replace("lift = 60", "lift = -4").replace("drop = 0", "drop = 5000", 1)
    with pytest.raises(InputRefused) as refused:
        read(tmp_path, text)
    assert len(refused.value.faults) >= 3


def test_the_fingerprint_follows_numbers_and_not_comments(tmp_path: Path) -> None:
    first = read(tmp_path, DEMO)
    assert read(tmp_path, DEMO + "\n# a note\n").fingerprint == first.fingerprint
    assert read(tmp_path, DEMO.replace("lift = 60", "lift = 41")).fingerprint != first.fingerprint


def test_a_shop_is_found_beside_or_above(tmp_path: Path) -> None:
    deep = tmp_path / "one" / "two"
    deep.mkdir(parents=True)
    (tmp_path / "shop.toml").write_text(DEMO, encoding="utf-8")
    assert find_shop(deep) == tmp_path / "shop.toml"
    (deep / "shop.toml").write_text(DEMO, encoding="utf-8")
    assert find_shop(deep) == deep / "shop.toml"


def test_a_set_up_that_is_not_there(tmp_path: Path) -> None:
    shop = read(tmp_path, DEMO)
    assert find_setup(shop, "large nose").clamp.nose_radius == 3.0
    with pytest.raises(InputRefused, match="stiffened") as refused:
        find_setup(shop, "stifened")
    assert refused.value.faults[0].code == "FG033"


def mutated(text: str, draw: random.Random) -> str:
    lines = text.splitlines()
    for _ in range(draw.randint(1, 4)):
        n = draw.randrange(len(lines))
        what = draw.randrange(5)
        if what == 0:
            del lines[n]
        elif what == 1:
            lines[n] = lines[n].replace(
                lines[n][draw.randrange(len(lines[n]) or 1) :][:1] or "x", draw.choice("9-.{[\"'=")
            )
        elif what == 2:
            lines.insert(n, draw.choice(lines))
        elif what == 3:
            head, mark, _ = lines[n].partition("=")
            values = ("1e400", "nan", "-1", "0", '"5 kg"', '"2 in"', "[]", "{}", "true", '""', "1" * 60, '"9e9 mm"')
            lines[n] = f"{head}{mark} {draw.choice(values)}" if mark else lines[n]
        else:
            lines[n] = lines[n] + lines[n]
        lines = lines or ["x"]
    return "\n".join(lines)


@pytest.mark.parametrize("part", [*range(2), *(pytest.param(n, marks=pytest.mark.thorough) for n in range(2, 20))])
def test_mutated_files_are_read_or_refused(tmp_path: Path, part: int) -> None:
    draw = random.Random(900 + part)
    refused = 0
    for _ in range(100):
        try:
            shop = read(tmp_path, mutated(DEMO, draw))
        except InputRefused:
            refused += 1
        else:
            assert shop.setups
    assert 20 < refused < 100


@pytest.mark.parametrize(
    ("line", "code", "place"),
    [
        ("flip = -1", "FG005", "order.flip"),
        ('flip = "4"', "FG005", "order.flip"),
        ("turn = true", "FG005", "order.turn"),
        ("turn = nan", "FG005", "order.turn"),
        ("turn = 10001", "FG005", "order.turn"),
        ("flipp = 4", "FG003", "order.flipp"),
    ],
)
def test_weights_that_cannot_be_are_refused_once(tmp_path: Path, line: str, code: str, place: str) -> None:
    with pytest.raises(InputRefused) as refused:
        read(tmp_path, f"{DEMO}\n[order]\n{line}\n")
    (fault,) = refused.value.faults
    assert fault.code == code
    assert place in fault.where


def test_weights_are_read_and_change_the_fingerprint(tmp_path: Path) -> None:
    plain, other = read(tmp_path, DEMO), read(tmp_path, f"{DEMO}\n[order]\nflip = 0\nswung_blank = 7.5\n")
    assert (other.weights.flip, other.weights.swung_blank) == (0.0, 7.5)
    assert other.weights.turn == plain.weights.turn
    assert other.fingerprint != plain.fingerprint
