"""Tables of a user's own: they extend or override ours key by key, and every fault is told with its place."""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from flatgen.core.errors import InputRefused
from flatgen.metal.metals import Metal, find_metal, load_metals

Load = Callable[[str | bytes], dict[str, Metal]]


@pytest.fixture
def own(tmp_path: Path) -> Load:
    def load(text: str | bytes) -> dict[str, Metal]:
        path = tmp_path / "own.toml"
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        return load_metals(path)

    return load


def test_override_of_one_key(own: Load) -> None:
    metals = own('[metals."6061-t6"]\ndensity = "2650 kg/m3"\n')
    ours = load_metals()
    assert metals["6061-T6"].density == 2650
    assert metals["6061-T6"].figures_of("density")[0].mark == "given"
    assert "own.toml" in str(metals["6061-T6"].figures_of("density")[0].source)
    assert metals["6061-T6"].radius_tables == ours["6061-T6"].radius_tables
    assert list(metals) == list(ours)
    assert ours["6061-T6"].density == 2700


def test_new_metal_with_few_keys(own: Load) -> None:
    text = '[metals."My Plate"]\ndensity = "0.1 lb/in3"\ndefault_method = "machinery-hard"\n'
    metal = find_metal(own(text), "my plate")
    assert metal.density == pytest.approx(2768, abs=0.5)
    assert metal.default_method == "machinery-hard"
    assert metal.gauge_system is None
    assert metal.minimum_radius(1.0, 90) == ()


def test_metal_like_another(own: Load) -> None:
    """Chains of `like`, forward too; a key of one's own wins; aliases are not taken over."""
    text = '[metals.b]\nlike = "a"\nyield = "300 MPa"\n[metals.a]\nlike = "S235"\ndensity = "7800 kg/m3"\n'
    metals = own(text)
    assert metals["b"].density == 7800
    assert [f.value for f in metals["b"].figures_of("yield")] == [300]
    assert metals["b"].default_method == "din-6935"
    assert metals["b"].minimum_radius(1.0, 90) == metals["S235"].minimum_radius(1.0, 90) != ()
    assert metals["b"].aliases == ()


def test_own_radii_replace(own: Load) -> None:
    text = '[metals.S235]\nradii = [{ unit = "mm", thickness_unit = "mm", thickness = [1, 2], '
    text += "radius = [1.5, [2, 4]] }]\n"
    figures = own(text)["S235"].minimum_radius(2.0, 90)
    assert [(f.value, f.smaller, f.mark) for f in figures] == [(4.0, 2.0, "given")]


@pytest.mark.parametrize("name", ["2024-T3", "mine"])
def test_rows_of_a_shared_table_are_added(own: Load, name: str) -> None:
    text = (
        '[sources.shop]\ntitle = "Shop trials"\nwhere = "page 3"\n[metals.mine]\nlike = "2024-T3"\n'
        '[[radius_tables]]\nunit = "t"\nthickness_unit = "mm"\nthickness = [2]\nsource = "shop"\n'
        f'rows."{name}" = [9]\n'
    )
    figures = own(text)[name].minimum_radius(1.016, 90)
    assert str(figures[0].source) == "Shop trials, page 3"
    assert figures[0].value == pytest.approx(9 * 1.016)
    assert figures[1:] == load_metals()["2024-T3"].minimum_radius(1.016, 90)


@pytest.mark.parametrize(
    ("text", "where", "words", "remedy"),
    [
        ('[metals.x]\ndensty = "1 kg/m3"', "metals.x.densty", 'unknown key "densty"', '"density"'),
        ('[metals.x]\ndensity = "2,7 g/cm3"', "metals.x.density", "decimal point", ""),
        ("[metals.x]\ndensity = 2700", "metals.x.density", "without a unit", ""),
        ('[metals."x-1"]\nyield = "20 kPa"', 'metals."x-1".yield', 'in "kPa"', ""),
        ('[metals.x]\nyield = "-3 MPa"', "metals.x.yield[0].value", "greater than 0", ""),
        ('[metals.x]\nyield = "1e999 MPa"', "metals.x.yield[0].value", "finite", ""),
        ("[metals.x]\nmodulus = true", "metals.x.modulus[0]", "must be a table", ""),
        ('[metals.x]\nyield = [{ unit = "MPa" }]', "metals.x.yield[0].value", "missing", "add value"),
        ('[metals.x]\ndefault_method = "din"', "metals.x.default_method", "no allowance method", ""),
        ('[metals.x]\ngauge_system = "bs"', "metals.x.gauge_system", "no gauge system", ""),
        ('[metals.x]\nlike = "6061-T9"', "metals.x.like", 'no metal is called "6061-T9"', ""),
        ('[metals.x]\nlike = "x"', "metals.x.like", "again", ""),
        ('[metals.x]\nlike = "y"\n[metals.y]\nlike = "x"', "metals.y.like", "again", ""),
        (
            '[metals.x]\nradii = [{ unit = "t", thickness_unit = "mm", thickness = [1, 2], radius = [1] }]',
            "metals.x.radii[0]", "1 radii for 2 thicknesses", "",
        ),
        (
            '[metals.x]\nradii = [{ unit = "t", thickness_unit = "mm", thickness = [2, 1], radius = [] }]',
            "metals.x.radii[0].thickness", "must grow", "",
        ),
        (
            '[metals.x]\nradii = [{ unit = "t", thickness_unit = "mm", thickness = [1], radius = [[2, 1]] }]',
            "metals.x.radii[0]", "[smaller, larger]", "",
        ),
        (
            '[[radius_tables]]\nunit = "t"\nthickness_unit = "mm"\nthickness = [1]\nrows.z = [1]',
            "radius_tables[0].rows.", 'no metal is called "z"', "",
        ),
        ("metals = 3", "metals", "must be a table", ""),
    ],
)  # fmt: skip
def test_faults(own: Load, text: str, where: str, words: str, remedy: str) -> None:
    with pytest.raises(InputRefused) as refused:
        own(text)
    hits = [f for f in refused.value.faults if where in f.where and words in f.text]
    assert hits, str(refused.value)
    assert hits[0].code == "FG031"
    assert hits[0].where.startswith("own.toml: ")
    assert hits[0].remedy
    assert remedy in hits[0].remedy


def test_all_faults_at_once(own: Load, tmp_path: Path) -> None:
    (tmp_path / "second.toml").write_text("nonsense = 1\n")
    (tmp_path / "first.toml").write_text('[metals.x]\ndensty = 1\nlik = "a"\n')
    with pytest.raises(InputRefused) as refused:
        load_metals(tmp_path / "first.toml", tmp_path / "second.toml")
    assert len(refused.value.faults) == 3


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        (b"[metals.x\n", "FG002", "line 1"),
        (b"\xff\xfe\x00", "FG001", "UTF-8"),
        (b"#" * 1_000_001, "FG001", "larger"),
        (b"a = " + b"[" * 5000, "FG002", "broken TOML"),
    ],
)
def test_files_that_are_none(own: Load, text: bytes, code: str, words: str) -> None:
    with pytest.raises(InputRefused, match=words) as refused:
        own(text)
    assert [f.code for f in refused.value.faults] == [code]


def test_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match=r"none\.toml: .*cannot be read") as refused:
        load_metals(tmp_path / "none.toml")
    assert refused.value.faults[0].code == "FG001"


def test_light_commands_do_not_pay_for_the_checking() -> None:
    """Loading our own tables brings in neither the shape checker nor a kernel."""
    code = (
        "import sys; from flatgen.metal.metals import load_metals; load_metals(); "
        "print(sorted({'flatgen.metal.schema', 'cadquery', 'OCP', 'ezdxf', 'matplotlib'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
