"""Random sections that can be formed: 0 to 12 bends, both ways, mixed radii, dimension modes and K."""

from __future__ import annotations

import math
import random
from pathlib import Path

from flatgen.core.errors import InputRefused
from flatgen.definition.model import Profile
from flatgen.definition.reader import read_profile

MODES = ("mould-line", "inside", "overall", "inside-overall")


def random_section(seed: int, folder: Path, most: int = 12) -> Profile:
    """A profile from a seed, tried until its legs clear each other when formed."""
    rng = random.Random(seed)
    path = folder / f"random-{seed}.toml"
    bends = rng.randint(1, most)
    while True:
        path.write_text(_text(rng, bends), encoding="utf-8")
        try:
            return read_profile(path)
        except InputRefused as error:
            if {f.code for f in error.faults} != {"FG022"}:
                raise


def _text(rng: random.Random, bends: int) -> str:
    t = rng.choice((0.5, 0.8128, 1.016, 1.5, 3.0))
    angles = [rng.choice((90.0, 45.0, 30.0, rng.uniform(1, 170))) for _ in range(bends)]
    radii = [t * rng.uniform(0.7, 6) for _ in range(bends)]
    rows = []
    for n in range(bends + 1):
        mode = rng.choice(MODES)
        least = sum(_most_setback(angles[i], radii[i], t) for i in (n - 1, n) if 0 <= i < bends)
        rows.append(f'{{ leg = {least + rng.uniform(0.5, 60)!r}, dimensions = "{mode}", name = "leg {n}" }},')
        if n < bends:
            way = rng.choice(("up", "down"))
            k = f", k = {rng.uniform(0.2, 0.8)!r}" if rng.random() < 0.5 else ""
            rows.append(f'{{ bend = {angles[n]!r}, way = "{way}", inside_radius = {radii[n]!r}{k} }},')
    section = "\n  ".join(rows)
    head = f'metal = "DC01"\nunits = "mm"\nthickness = {t}\ninside_radius = {t}\nlength = {rng.uniform(5, 900)!r}\n'
    return f"{head}section = [\n  {section}\n]\n"


def _most_setback(angle: float, radius: float, t: float) -> float:
    return (radius + t) * math.tan(math.radians(angle / 2))
