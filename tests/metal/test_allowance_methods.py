"""The methods: what they refuse, what they remark, and that each gives back its own figures."""

import math

import pytest

from flatgen.metal.allowance import (
    METHODS,
    Aviation,
    Dimensions,
    Din6935,
    GivenAllowance,
    GivenDeduction,
    GivenK,
    Method,
    NotUsable,
    bend_allowance,
    bend_deduction,
    method_named,
    setback,
)

MODES: tuple[Dimensions, ...] = ("mould-line", "inside", "overall", "inside-overall")


@pytest.mark.parametrize(
    ("angle", "dimensions", "expected"),
    [
        (60, "mould-line", 5 / math.sqrt(3)), (60, "inside", 3 / math.sqrt(3)),
        (60, "overall", 5 / math.sqrt(3)),
        (120, "mould-line", 5 * math.sqrt(3)), (120, "inside", 3 * math.sqrt(3)),
        (120, "overall", 5), (120, "inside-overall", 3), (180, "overall", 5), (180, "inside-overall", 3),
    ],
)  # fmt: skip
def test_setback_of_the_ways_to_dimension(angle: float, dimensions: Dimensions, expected: float) -> None:
    """By hand, r = 3, t = 2: tan 30 = 1/sqrt 3, tan 60 = sqrt 3, tan 45 = 1."""
    assert setback(angle, 3, 2, dimensions) == pytest.approx(expected)


@pytest.mark.parametrize("dimensions", ["mould-line", "inside"])
def test_no_mould_line_at_180(dimensions: Dimensions) -> None:
    with pytest.raises(ValueError, match="overall"):
        setback(180, 3, 2, dimensions)
    with pytest.raises(NotUsable, match="mould line"):
        GivenDeduction(1, dimensions).allowance(180, 3, 2)


@pytest.mark.parametrize(
    ("angle", "r", "t"),
    [(0, 1, 1), (-5, 1, 1), (181, 1, 1), (math.nan, 1, 1), (90, -1, 1), (90, 1, 0), (90, math.inf, 1)],
)
def test_arguments_that_are_no_bend(angle: float, r: float, t: float) -> None:
    with pytest.raises(ValueError, match=r"bend angle|out of range"):
        setback(angle, r, t)
    with pytest.raises(ValueError, match=r"bend angle|out of range"):
        bend_allowance(angle, r, t, k=0.4)


@pytest.mark.parametrize("dimensions", MODES)
@pytest.mark.parametrize("angle", [30.0, 90.0, 135.0])
def test_given_figures_come_back(angle: float, dimensions: Dimensions) -> None:
    """K, allowance and deduction of one bend are three names of one thing."""
    k, r, t = 0.42, 3.0, 1.5
    length = bend_allowance(angle, r, t, k=k)
    deduction = bend_deduction(angle, r, t, k=k, dimensions=dimensions)
    for method in (GivenK(k), GivenAllowance(length), GivenDeduction(deduction, dimensions)):
        answer = method.allowance(angle, r, t)
        assert answer.length == pytest.approx(length)
        assert answer.k == pytest.approx(k)
        assert answer.remarks == ()
        assert isinstance(method, Method)


@pytest.mark.parametrize("length", [4.0, 4.5, math.nan, math.inf])
def test_deduction_that_leaves_no_metal(length: float) -> None:
    """2 SB = 4 at 90 degrees, r = t = 1."""
    with pytest.raises(NotUsable) as refused:
        GivenDeduction(length).allowance(90, 1, 1)
    assert refused.value.remedy


@pytest.mark.parametrize("method", [GivenAllowance(0), GivenAllowance(-1), GivenAllowance(math.nan), GivenK(-2)])
def test_allowance_that_is_none(method: Method) -> None:
    with pytest.raises(NotUsable, match="not above 0"):
        method.allowance(90, 1, 1)


@pytest.mark.parametrize(("k", "told"), [(-0.01, True), (0.0, False), (0.6, False), (1.0, False), (1.01, True)])
def test_neutral_fibre_outside_the_sheet(k: float, told: bool) -> None:
    """A caution outside 0 to 1 and nowhere else: K above 0.5 is nothing to remark."""
    remarks = GivenK(k).allowance(90, 2, 1).remarks
    assert [(r.code, r.severity) for r in remarks] == ([("FG106", "caution")] if told else [])


@pytest.mark.parametrize(("ratio", "usable"), [(0.64, False), (0.65, True), (0.0, False), (8.0, True)])
def test_din_below_its_ratio(ratio: float, usable: bool) -> None:
    if usable:
        assert Din6935().allowance(90, ratio * 1.3, 1.3).length > 0
        return
    with pytest.raises(NotUsable, match=r"0\.65 unless k is given") as refused:
        Din6935().allowance(90, ratio * 1.3, 1.3)
    assert "0.845 mm" in refused.value.remedy


@pytest.mark.parametrize(("angle", "shallow"), [(14.99, True), (15.0, False), (15.01, False), (1.0, True)])
def test_din_above_165(angle: float, shallow: bool) -> None:
    """Opening angle above 165: the formula carried on with a note, or v = 0 with K and jump told."""
    by_formula = Din6935().allowance(angle, 2, 2)
    neglected = Din6935("zero").allowance(angle, 2, 2)
    assert by_formula.length == pytest.approx(bend_allowance(angle, 2, 2, k=0.65 / 2))
    codes = [r.code for r in by_formula.remarks], [r.code for r in neglected.remarks]
    assert codes == ((["FG105"], ["FG105"]) if shallow else ([], []))
    if shallow:
        assert neglected.length == pytest.approx(2 * setback(angle, 2, 2))
        text = neglected.remarks[0].text
        assert f"K of {neglected.k:.3f}" in text
        assert f"{neglected.length - by_formula.length:.3f} mm longer" in text
    else:
        assert neglected == by_formula


def test_neglected_bend_is_a_k_of_about_one() -> None:
    """At 15 degrees and r = t: K = 2 tan(7.5)*2/(pi/12) - 1 = 1.0116 by hand; no caution for it."""
    answer = Din6935("zero").allowance(14.999999, 1, 1)
    assert answer.k == pytest.approx(1.0116, abs=2e-4)
    assert [r.code for r in answer.remarks] == ["FG105"]


def test_aviation_in_proportion_to_angle_and_size() -> None:
    """(0.01743*2 + 0.0078*1)*90 = 3.8394 by hand; twice the angle, or twice the sheet, twice the length."""
    assert Aviation().allowance(90, 2, 1).length == pytest.approx(3.8394)
    assert Aviation().allowance(180, 2, 1).length == pytest.approx(2 * 3.8394)
    assert Aviation().allowance(90, 4, 2).length == pytest.approx(2 * 3.8394)


@pytest.mark.parametrize("name", METHODS)
def test_methods_by_name(name: str) -> None:
    """Each gives a K between 0.3 and 0.5 at r = 2t, and says its name and source."""
    answer = method_named(f" {name.upper()} ").allowance(90, 2, 1)
    assert 0.3 < answer.k < 0.5
    assert answer.k == pytest.approx((answer.length / (math.pi / 2) - 2) / 1)
    assert answer.method
    assert answer.source


def test_unknown_method() -> None:
    with pytest.raises(NotUsable, match="avation") as refused:
        method_named("avation")
    assert 'did you mean "aviation"' in refused.value.remedy
    assert "din-6935-zero" in refused.value.remedy
