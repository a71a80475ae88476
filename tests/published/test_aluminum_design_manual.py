"""Aluminum Design Manual (2005), p. VII-78, Table 3-1, and other tables of minimum radii for aluminium.

https://vdocuments.mx/aluminum-min-bend-radiuspdf.html (seen); 6061 rows in the same layout
http://www.bjg-design.com/designbook/shbend.htm (seen).
"""

import pytest

from flatgen.metal.metals import load_metals

INCH = 25.4
MANUAL = [
    ("1100-O", "3/16", 0.5), ("1100-H14", "1/2", 2.5), ("2024-O", "3/8", 2.5), ("2024-T3", "1/32", 3),
    ("2024-T3", "1/16", 4), ("2024-T3", "1/2", 7.5), ("3003-O", "1/8", 0), ("3003-H14", "1/8", 1),
    ("5052-O", "1/4", 1), ("5052-H32", "1/16", 1), ("5052-H32", "1/2", 2), ("5052-H34", "1/32", 1),
    ("5052-H34", "1/16", 1.5), ("6061-O", "1/8", 1), ("6061-T4", "3/16", 2.5), ("6061-T6", "1/64", 1),
    ("6061-T6", "1/16", 1.5), ("6061-T6", "1/8", 2.5), ("6061-T6", "1/2", 5),
]  # fmt: skip


def by(name: str, source: str, thickness: float) -> float | None:
    found = [f for f in load_metals()[name].minimum_radius(thickness, 90) if f.source.name == source]
    return found[0].value if found else None


@pytest.mark.parametrize(("name", "column", "times"), MANUAL)
def test_manual(name: str, column: str, times: float) -> None:
    """P. VII-78, Table 3-1 (seen): radius in multiples of the thickness, 90 degree cold bends."""
    top, bottom = column.split("/")
    thickness = int(top) / int(bottom) * INCH
    source = "aa-6061" if name.startswith("6061") else "adm-2005"
    assert by(name, source, thickness) == pytest.approx(times * thickness)


@pytest.mark.parametrize(("sheet", "column"), [(0.016, 2.5), (0.032, 3), (0.064, 4), (0.040, 4), (0.070, 5)])
def test_sheets_and_columns(sheet: float, column: float) -> None:
    """Table 3-1, 2024-T3: gauge sizes belong to their fraction, others take the next thicker."""
    assert by("2024-T3", "adm-2005", sheet * INCH) == pytest.approx(column * sheet * INCH)


@pytest.mark.parametrize(
    ("name", "sheet", "radius"),
    [
        ("2024-T3", 0.040, 0.12), ("2024-T3", 0.125, 0.62), ("3003-H14", 0.063, 0.12),
        ("5052-O", 0.080, 0.09),
        ("6061-O", 0.100, 0.12), ("6061-T4", 0.050, 0.09), ("6061-T6", 0.040, 0.06), ("6061-T6", 0.125, 0.22),
        ("7075-T6", 0.016, 0.09), ("7075-T6", 0.040, 0.22), ("7075-T6", 0.125, 0.87),
    ],
)  # fmt: skip
def test_trade_table(name: str, sheet: float, radius: float) -> None:
    """Trade table in inches, http://smtp.americanmachinetools.com/bend_radius.htm (seen)."""
    assert by(name, "trade-inch", sheet * INCH) == pytest.approx(radius * INCH)


@pytest.mark.parametrize(
    ("name", "sheet", "low", "high"),
    [
        ("6061-T6", 0.064, 1, 2),
        ("6061-T6", 0.016, 0, 1),
        ("5052-H34", 0.128, 0.5, 1.5),
        ("5052-H32", 0.128, 0, 0),
    ],
)
def test_tool_and_manufacturing_engineers_handbook(name: str, sheet: float, low: float, high: float) -> None:
    """Rows as quoted in https://eng-tips.com/threads/...113420 (seen): larger figure used, smaller kept."""
    (found,) = [f for f in load_metals()[name].minimum_radius(sheet * INCH, 90) if f.source.name == "tme"]
    assert found.value == pytest.approx(high * sheet * INCH)
    assert found.smaller == pytest.approx(low * sheet * INCH)


@pytest.mark.parametrize(
    ("name", "sheet", "radius"),
    [
        ("2024-T3", 0.025, 0.090),
        ("6061-T6", 0.032, 0.120),
        ("7075-T6", 0.020, 0.090),
        ("7075-T6", 0.032, 0.160),
    ],
)
def test_process_specification(name: str, sheet: float, radius: float) -> None:
    """Aircraft process specification, http://aircraftextrusion.com/resources/forming-tolerance/ (seen)."""
    assert by(name, "process-spec", sheet * INCH) == pytest.approx(radius * INCH)
    assert by(name, "process-spec", 0.040 * INCH) is None
