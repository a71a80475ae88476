"""Words of the shop sheet as a whole: heads over its parts, and what stands in the table of the blank."""

from __future__ import annotations

TYPE = "Shop sheet"
TOLERANCE = "ISO 2768-m"
PROGRAM = "flatgen {version}"
FINGERPRINT = "part {part}"
FINGERPRINTS = "part {part}, shop {shop}"
STRIPS = ", strips {strips}"
SCALE = "as shown"
SCHEDULE = "Bend schedule"
BLANK_HEAD = "Sheet and blank"
BLANK = ("Metal", "Thickness", "Measured", "Blank across x along", "Area", "Weight", "Sheet or batch", "Rolled")
MEASURE = "Stop and measure after bend {label}"
ALL_MEASURES = "Stop and measure after every bend"
IF_OFF = "Where a measurement is out of its limits"
FINISHED = "The finished part"
PROOF_HEAD = "Proof line: the blank by pocket calculator"
PROOF = ("What", "Sum", "Gives", "From")
CAUTIONS = "Cautions"
NOTES = "Notes"
NO_BRAKE = (
    "No brake is known: there is no bend schedule and no sight line. Describe yours in a shop file (flatgen start "
    "--shop) and draw again."
)
NO_BEND = "There is nothing to bend."
TICKS = ("marked", "laid in, clamped", "bent", "measured")
STEPS = "{number} {label}"
GRAIN = "rolled {grain} the bends"
NO_GRAIN = "mark on the blank how it was rolled, before it is cut"
NO_PART = "Density not known"
KICK = "The leaf falls back, the handle kicks on release, the clamp bar drops."


def weight(mass: float | None) -> str:
    """Of the blank [kg], a dash where the density is not known.

    >>> weight(0.31279), weight(12.04), weight(None)
    ('0.313 kg', '12.0 kg', '-')
    """
    if mass is None:
        return "-"
    return f"{mass:.3f} kg" if mass < 10.0 else f"{mass:.1f} kg"


def area(square: float) -> str:
    """Of the blank [mm2].

    >>> area(98_204.0)
    '982.0 cm²'
    """
    return f"{square / 100.0:.1f} cm²" if square < 1e6 else f"{square / 1e6:.3f} m²"
