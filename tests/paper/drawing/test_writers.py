"""SVG and PNG: true scale, valid XML, line widths and types, same bytes, nothing asked of the machine."""

from __future__ import annotations

import io
import json
import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from flatgen.paper.drawing import Notes, dxf_bytes, flat_document, png_bytes, svg_text
from flatgen.paper.drawing.text import font_path
from tests.paper.drawing.drawn_samples import NOTES, channel, plate, tiny
from tests.places import ROOT

WILD = 'É "Ω" 折 <&> %%c ^J \x00\x07\u202e\ud800\ufffe \\U+00B0 😀'


def strokes(svg: str) -> dict[str, list[tuple[float, str]]]:
    """Width [mm] and path of every stroke by colour, in the SVG's own frame."""
    root = ET.fromstring(svg)
    unit = float(root.get("width", "").removesuffix("mm")) / float(root.get("viewBox", "").split()[2])
    looks = dict(re.findall(r"\.(C\w+) \{(.*?)\}", svg))
    found: dict[str, list[tuple[float, str]]] = {}
    for path in root.iter("{http://www.w3.org/2000/svg}path"):
        look = looks[path.get("class", "")]
        colour, width = re.findall(r"stroke: (\S+); stroke-width: (\S+);", look)[0]
        if colour != "none":
            found.setdefault(colour, []).append((float(width) * unit, path.get("d", "")))
    return found


@pytest.mark.parametrize("inches", [False, True])
@pytest.mark.parametrize("version", ["R12", "R2010"])
def test_svg_is_true_to_scale_on_a_white_page_in_millimetres(version: str, inches: bool) -> None:
    flat = plate()
    svg = svg_text(flat_document(flat, NOTES, version=version, inches=inches, cut_only=True))
    root = ET.fromstring(svg)
    assert float(root.get("width", "").removesuffix("mm")) == pytest.approx(flat.width + 20, abs=1)
    assert float(root.get("height", "").removesuffix("mm")) == pytest.approx(flat.length + 20, abs=1)
    unit = float(root.get("width", "").removesuffix("mm")) / float(root.get("viewBox", "").split()[2])
    numbers = [[float(n) for n in re.findall(r"-?\d+", d)] for _, d in strokes(svg)["#000000"]]
    xs = [v for d in absolute(numbers) for v in d]
    assert (max(xs) - min(xs)) * unit == pytest.approx(flat.width, abs=0.01)
    ground = next(root.iter("{http://www.w3.org/2000/svg}rect"))
    assert ground.get("fill", "").lower().startswith("#ffffff")


def absolute(paths: list[list[float]]) -> list[list[float]]:
    """x of the ends of each path, written as one absolute move and relative lines."""
    return [[p[0], p[0] + sum(p[2::2])] for p in paths]


def test_wide_lines_are_twice_as_wide_as_narrow_ones_and_dashes_are_there() -> None:
    found = strokes(svg_text(flat_document(channel(), NOTES)))
    wide = max(w for w, _ in found["#000000"])
    near, far, tangents = (found[c] for c in ("#1f6596", "#a85420", "#707478"))
    assert wide == pytest.approx(2 * near[0][0], rel=0.01)
    assert wide == pytest.approx(0.7, rel=0.01)
    moves = {name: sum(len(re.findall("[Mm]", d)) for _, d in some) for name, some in
             (("near", near), ("far", far), ("tangents", tangents))}  # fmt: skip
    assert moves["near"] == 2  # the bend line and its sample in the key
    assert moves["far"] > 40
    assert moves["tangents"] > 4 * moves["far"]


def test_png_is_as_large_as_asked_white_and_has_wide_and_narrow_lines() -> None:
    from PIL import Image

    image = Image.open(io.BytesIO(png_bytes(flat_document(plate(), NOTES, cut_only=True), longest=1000)))
    assert max(image.size) in (999, 1000, 1001)
    grey = np.asarray(image.convert("L"))
    assert grey[0].min() == 255
    middle = grey[len(grey) // 2]
    dark = np.flatnonzero(middle < 128)
    assert dark.size == pytest.approx(2 * 0.5 * 1000 / 200, abs=2)  # two edges of 0.5 mm at 5 px/mm
    assert (dark[-1] - dark[0]) / 5 == pytest.approx(plate().width + 0.5, abs=0.4)


@pytest.mark.parametrize("version", ["R12", "R2000", "R2010"])
def test_any_unicode_and_any_code_in_a_label_is_harmless(version: str) -> None:
    flat = channel()
    bends = (replace(flat.bends[0], label=WILD), flat.bends[1])
    panels = (replace(flat.panels[0], name=WILD), *flat.panels[1:])
    doc = flat_document(replace(flat, bends=bends, panels=panels), Notes(WILD, (WILD,), (WILD,)), version=version)
    assert doc.audit().errors == []
    data = dxf_bytes(doc)
    assert b"%%c" not in data
    ET.fromstring(svg_text(doc))
    said = [e.plain_text() for e in doc.modelspace().query("TEXT")]
    assert any("É" in t and "% %c" in t and "^J" in t and "\\ U+00B0" in t for t in said)
    assert not any(ord(c) < 32 or c == "\u202e" for t in said for c in t)
    assert png_bytes(doc, longest=300)[:4] == b"\x89PNG"


def test_svg_and_png_repeat() -> None:
    one, two = (flat_document(tiny(), NOTES) for _ in range(2))
    assert svg_text(one) == svg_text(two)
    assert png_bytes(one, longest=300) == png_bytes(two, longest=300)


SCRIPT = """
import sys, warnings, json, hashlib
warnings.simplefilter("error")
sys.path.insert(0, sys.argv[1])
from tests.paper.drawing.drawn_samples import NOTES, channel
from flatgen.paper.drawing import flat_document, dxf_bytes, svg_text
doc = flat_document(channel(), NOTES)
print(hashlib.sha256(dxf_bytes(doc) + svg_text(doc).encode()).hexdigest())
"""


@pytest.mark.parametrize("hashing", ["0", "1", "2"])
def test_a_bare_home_gives_the_same_drawing_and_stays_bare(tmp_path: Path, hashing: str) -> None:
    """In a process of its own: no typefaces looked for, no list written, no word on standard error."""
    import hashlib

    home = tmp_path / "home"
    home.mkdir()
    kept = {k: v for k, v in os.environ.items() if not k.startswith("XDG_")}
    kept |= {"HOME": str(home), "PYTHONHASHSEED": hashing}
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(ROOT)],
        env=kept,
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    doc = flat_document(channel(), NOTES)
    assert done.stdout.strip() == hashlib.sha256(dxf_bytes(doc) + svg_text(doc).encode()).hexdigest()
    assert done.stderr == ""
    assert list(home.iterdir()) == []


def test_only_our_typeface_is_known() -> None:
    from flatgen.paper.drawing.text import load_fonts

    known = json.loads(load_fonts().font_manager.dumps())["font-faces"]
    assert [face[0] for face in known] == [str(font_path())]


def test_no_log_line_is_written(caplog: pytest.LogCaptureFixture) -> None:
    for version in ("R12", "R2018"):
        doc = flat_document(channel(), NOTES, version=version)
        dxf_bytes(doc)
        svg_text(doc)
    assert [r for r in caplog.records if r.levelno >= 30] == []
