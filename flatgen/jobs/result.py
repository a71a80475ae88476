"""What is to be written of a part and how; a part that was drawn, whatever it came from."""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal, TypeVar

from flatgen.bend_order.decide import Decision
from flatgen.core.errors import Fault, Finding
from flatgen.core.flat_pattern import FlatPattern
from flatgen.core.schedule import Schedule
from flatgen.definition.part import Part
from flatgen.jobs.kinds import USUAL
from flatgen.openings.judge import JudgedOpenings
from flatgen.paper.drawing.bench import Marks
from flatgen.paper.drawing.ink import A4, Paper

Projection = Literal["first", "third"]
Face = Literal["near", "far"]

AnyResult = TypeVar("AnyResult", bound="Result")


@dataclass(frozen=True)
class OnPaper:
    """How drawings are put on paper.

    ``paper`` of the templates; ``sheet_paper`` of the shop sheet, that of the templates or A4 where it is None;
    ``printer_scale`` [%]: what the printer makes of 100 across and along; ``faces`` that have a template of their own;
    ``projection`` of the views; ``marks`` of the bench drawing; ``plotter_width`` [mm], None where not known;
    ``fractions``: inches of the shop sheet to the nearest 1/64.
    """

    paper: Paper = A4
    sheet_paper: Paper | None = None
    printer_scale: tuple[float, float] = (100.0, 100.0)
    faces: tuple[Face, ...] = ("near",)
    projection: Projection = "first"
    marks: Marks = "lines"
    plotter_width: float | None = None
    fractions: bool = False

    @property
    def of_the_sheet(self) -> Paper:
        """Paper of the shop sheet: what a printer at home may take, else A4."""
        if self.sheet_paper is not None:
            return self.sheet_paper
        return self.paper if self.paper.name in ("A4", "A3", "Letter", "Tabloid") else A4


@dataclass(frozen=True)
class Options:
    """What to write and how: kinds of ``KINDS``, the DXF's version, its unit; the shop file if named, the set-up.

    ``hold`` (``A=web,B=2``) and ``order`` (``B,A``) go before what a definition says. ``as_formed`` draws the flat for
    the inside radii that the brake gives.
    """

    kinds: tuple[str, ...] = USUAL
    version: str = "R2010"
    inches: bool = False
    shop: Path | None = None
    set_up: str = ""
    hold: str = ""
    order: str = ""
    as_formed: bool = False
    on_paper: OnPaper = field(default_factory=OnPaper)


@dataclass(frozen=True)
class Result(ABC):
    """A part that was drawn, whatever it came from: its flat, its openings, and the files written.

    ``schedule`` is None where no brake is known, or there is nothing to bend; ``decision``: how its order was found.
    """

    flat: FlatPattern
    findings: tuple[Finding, ...]
    files: tuple[Path, ...] = field(default=(), kw_only=True)
    openings: JudgedOpenings = field(default_factory=JudgedOpenings, kw_only=True)
    schedule: Schedule | None = field(default=None, kw_only=True)
    decision: Decision | None = field(default=None, kw_only=True, repr=False)

    @property
    @abstractmethod
    def part(self) -> Part:
        """What the answer and the drawings ask of it."""

    @property
    def exit_status(self) -> int:
        """1 where a shop rule is broken, else 0."""
        return int(any(f.severity == "caution" for f in self.findings))

    @abstractmethod
    def step(self) -> bytes:
        """The formed part as STEP."""

    @abstractmethod
    def projected(self) -> Any:
        """Views of the formed part, None where there are none."""

    @abstractmethod
    def record(self) -> dict[str, Any]:
        """The machine-readable answer."""


def no_shop(where: str) -> Fault:
    """That a shop file is needed and there is none."""
    remedy = "write one with flatgen start --shop and put your brake's measures in, or name it with --shop FILE"
    return Fault("FG034", where, "no shop.toml was found beside it or above", remedy)
