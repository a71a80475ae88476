"""A plausible home-made leaf brake for tests: 1000 mm, angle and flat bar welded up, two set-ups. Nobody's machine.

The first and the last section are worked by hand from their outlines:

leaf            angle 60 x 60 x 8, centroid 17.71 mm from the backs, Ix = Iy = 291300 mm4, Ixy = 172300 mm4 (by parts)
stiffened leaf  round numbers, some ten times as stiff as the angle: no outline is behind them
clamp bar       rectangle 60 deep, 40 high: 60 x 40^3 / 12 and 40 x 60^3 / 12
"""

from __future__ import annotations

from flatgen.core.shop import Beam, Brake, ClampBar, Leaf, Lever, Section, SetUp, Shop, Stand

STEEL, STEEL_SHEAR = 205_000.0, 79_000.0
"""E and G of structural steel [MPa], common practice."""

ANGLE = Section(ix=291_300.0, iy=291_300.0, ixy=172_300.0, j=19_100.0, far_x=42.3, far_y=42.3, text="angle 60 x 60 x 8")
STIFF = Section(ix=1_920_000.0, iy=853_333.0, ixy=0.0, j=330_000.0, far_x=40.0, far_y=60.0, text="stiffened leaf")
BAR = Section(ix=320_000.0, iy=720_000.0, ixy=0.0, j=751_000.0, far_x=30.0, far_y=20.0, text="bar 60 x 40")


def beam(section: Section, span: float = 1000.0, stress_limit: float | None = 160.0) -> Beam:
    """A steel beam on its ends."""
    return Beam(section, span, STEEL, STEEL_SHEAR, "steel", stress_limit=stress_limit)


def clamp(nose_radius: float = 1.5, *, with_beam: bool = True) -> ClampBar:
    """The clamp bar with a nose of 45 degrees."""
    return ClampBar(nose_radius, 45.0, 40.0, 60.0, 25.0, 30.0, beam(BAR) if with_beam else None)


def leaf(section: Section | None = ANGLE, *, face: float = 40.0, swing: float = 135.0) -> Leaf:
    """A leaf level with the bed."""
    return Leaf(face, 0.0, 60.0, swing, 8.0, 25.0, beam(section) if section else None)


def shop(
    setups: tuple[SetUp, ...] = (), *, hinge_limit: float | None = 8_000.0, clamp_limit: float | None = 60_000.0
) -> Shop:
    """The shop; ``setups`` in place of its own two, ``plain`` and ``stiffened``."""
    own = (
        SetUp("plain", clamp(), leaf()),
        SetUp("stiffened", clamp(3.0), leaf(STIFF, face=60.0)),
    )
    brake = Brake(
        name="home-made brake",
        length=1000.0,
        throat=None,
        bed_depth=120.0,
        bed_height=100.0,
        hinge=(0.0, 0.0),
        open_ends=(True, True),
        lever=Lever(600.0, "both ends", 300.0),
        hinge_limit=hinge_limit,
        clamp_limit=clamp_limit,
        stand=Stand(90.0, 250.0, 200.0, 900.0),
    )
    return Shop("shop.toml", "Home-made brake, 1 m", brake, setups or own, fingerprint="0123456789abcdef")
