"""NAVEDTRA 14119 (Hull Maintenance Technician) p. 13-43, and the aviation text of the US Navy. Inches.

https://enginemechanics.tpub.com/14119/Figure-13-50-Computing-The-Overall-Length-Of-A-U-Bolt-446.html (seen)
"""

import pytest

from flatgen.metal.allowance import Aviation, bend_allowance


def test_example_1() -> None:
    """P. 13-43, example 1 (seen): T 1/2, R 3, 90 degrees: 5.10, on the mid-line, with 1.57 for pi/2."""
    assert bend_allowance(90, 3, 0.5, k=0.5) == pytest.approx(5.10, abs=6e-3)


def test_aviation_formula_of_the_navy() -> None:
    """https://tpub.com/air/13-19.htm (seen): 0.0173 R + 0.0078 T per degree, within 1 % of 0.01743."""
    for r, t in ((0.125, 0.040), (0.25, 0.063), (1.0, 0.025)):
        navy = (0.0173 * r + 0.0078 * t) * 90
        assert Aviation().allowance(90, r, t).length == pytest.approx(navy, rel=0.01)
        assert Aviation().allowance(90, r, t).length > navy
