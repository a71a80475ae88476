"""Yield, ultimate strength, modulus and density as printed, each in its own unit, house units beside it."""

import pytest

from flatgen.metal.metals import load_metals

PRINTED = [
    # metal, quantity, kind, as printed, MPa or kg/m3, source
    ("6061-T6", "yield", "typical", "276 MPa", 276, "cct"),
    ("6061-T6", "ultimate", "typical", "310 MPa", 310, "cct"),
    ("6061-T6", "yield", "minimum", "35 ksi", 241.3, "eng-toolbox"),
    ("6061-T6", "ultimate", "minimum", "42 ksi", 289.6, "eng-toolbox"),
    ("6061-T6", "modulus", "typical", "68.9 GPa", 68900, "cct"),
    ("6061-T6", "density", "nominal", "2.7 g/cm3", 2700, "cct"),
    ("6061-T4", "ultimate", "minimum", "30 ksi", 206.8, "eng-toolbox"),
    ("2024-T3", "yield", "typical", "50 ksi", 344.7, "kutz"),
    ("2024-T3", "ultimate", "minimum", "64 ksi", 441.3, "eng-toolbox"),
    ("2024-T3", "density", "nominal", "0.1 lb/in3", 2768, "kutz"),
    ("5052-H32", "yield", "minimum", "160 MPa", 160, "adm-3-3"),
    ("5052-H32", "ultimate", "typical", "228 MPa", 228, "cct"),
    ("5052-O", "ultimate", "minimum", "170 MPa", 170, "adm-3-3"),
    ("3003-H14", "yield", "typical", "21 ksi", 144.8, "kutz"),
    ("1100-H14", "ultimate", "typical", "18 ksi", 124.1, "kutz"),
    ("DC01", "ultimate", "minimum", "270 MPa", 270, "en-10130"),
    ("DC01", "yield", "maximum", "280 MPa", 280, "en-10130"),
    ("S235", "yield", "minimum", "235 MPa", 235, "en-10025-2-strength"),
    ("S235", "ultimate", "maximum", "510 MPa", 510, "en-10025-2-strength"),
    ("4130-N", "yield", "minimum", "75 ksi", 517.1, "sheet-4130"),
    ("4130-N", "ultimate", "minimum", "95 ksi", 655.0, "sheet-4130"),
    ("304", "yield", "minimum", "205 MPa", 205, "astm-304"),
    ("304", "ultimate", "minimum", "515 MPa", 515, "astm-304"),
    ("316", "yield", "minimum", "205 MPa", 205, "austenitic"),
]


@pytest.mark.parametrize(("name", "quantity", "kind", "printed", "value", "source"), PRINTED)
def test_figure(name: str, quantity: str, kind: str, printed: str, value: float, source: str) -> None:
    """As printed in the source named (seen; see sources.toml for page and address)."""
    figures = load_metals()[name].figures_of(quantity, kind)
    (found,) = [f for f in figures if f.printed == printed]
    assert found.value == pytest.approx(value, abs=0.06 if value < 1000 else 1)
    assert found.source.name == source
    assert found.mark == "seen"


@pytest.mark.parametrize(("thickness", "limit"), [(1.0, 280), (0.7, 300), (0.6, 300), (0.5, 320), (0.4, 320)])
def test_yield_of_thin_dc01(thickness: float, limit: float) -> None:
    """EN 10130:1999 (seen): 280 MPa at most; .5 to .7 mm 20 more, up to .5 mm 40 more."""
    figures = load_metals()["DC01"].figures_of("yield")
    assert [f.value for f in figures if f.holds_for(thickness)] == [limit]


@pytest.mark.parametrize(("inches", "ksi"), [(0.040, 95), (0.187, 95), (0.250, 90)])
def test_strength_of_4130_by_thickness(inches: float, ksi: float) -> None:
    """Sheet specification of a stockist (seen): .025 to .187 in 95 ksi, .187 to .375 in 90 ksi."""
    figures = load_metals()["4130-N"].figures_of("ultimate")
    (found,) = [f for f in figures if f.holds_for(inches * 25.4)]
    assert found.printed == f"{ksi} ksi"
