"""Machinery's Handbook, 31st ed., p. 1421: bends made with simple tools or on the bench. Inches."""

import pytest

from flatgen.metal.allowance import Machinery, MetalClass


def test_worked_part() -> None:
    """P. 1421 (seen): T 1/8; 180° R 3/8 is 1.338, 60° R 5/8 is 0.707, with 3.5 straight 5.545."""
    method = Machinery("medium")
    half_turn = method.allowance(180, 3 / 8, 1 / 8).length
    sixth = method.allowance(60, 5 / 8, 1 / 8).length
    assert half_turn == pytest.approx(1.338, abs=6e-4)
    assert sixth == pytest.approx(0.707, abs=6e-4)
    assert half_turn + sixth + 3.5 == pytest.approx(5.545, abs=5e-4)


@pytest.mark.parametrize(
    ("metal_class", "printed", "k"), [("soft", 0.55, 0.350), ("medium", 0.64, 0.407), ("hard", 0.71, 0.452)]
)
def test_classes_of_metal(metal_class: MetalClass, printed: float, k: float) -> None:
    """P. 1421: L = 0.55 / 0.64 / 0.71 T + 1.57 R at 90 degrees (seen); K 0.350 / 0.407 / 0.452 (derived)."""
    assert Machinery(metal_class).allowance(90, 2, 1).length == pytest.approx(printed + 3.14, abs=1e-12)
    assert Machinery(metal_class).allowance(90, 0, 1).k == pytest.approx(k, abs=5e-4)
