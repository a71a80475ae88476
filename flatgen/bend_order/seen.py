"""What a picture asks of a look at a stage: its clearances with their places, and its ways in and out."""

from __future__ import annotations

from typing import Protocol

Point = tuple[float, float]


class Checked(Protocol):
    """A clearance with its place, as a look at a stage finds it."""

    @property
    def name(self) -> str: ...
    @property
    def side(self) -> str: ...
    @property
    def gap(self) -> float: ...
    @property
    def angle(self) -> float: ...
    @property
    def points(self) -> tuple[Point, Point] | None: ...


class Passed(Protocol):
    """A way in or out; ``how`` is empty where there is none."""

    @property
    def how(self) -> str: ...
    @property
    def raised(self) -> float: ...
    @property
    def leg(self) -> int: ...


class Looked(Protocol):
    """What a look at a stage finds."""

    @property
    def checks(self) -> tuple[Checked, ...]: ...
    @property
    def into(self) -> Passed: ...
    @property
    def out(self) -> Passed: ...
