"""One stage inspected: every clearance with its place, the ways in and out, and in words why it is refused."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from flatgen.bend_order import costs
from flatgen.bend_order.bodies import Bodies, Swing, brake_bodies, transform
from flatgen.bend_order.chain import Floats, Pieces, pieces_of_side, refine
from flatgen.bend_order.checks import Alive, Gaps, Gauge, held_gaps, lift_key, swung_gaps
from flatgen.bend_order.gaps import Body
from flatgen.bend_order.stages import Situation, Values, ways
from flatgen.bend_order.together import pair_gaps
from flatgen.brake.creases import other_side
from flatgen.core.flat_pattern import Point
from flatgen.core.schedule import WhichSide

PointPair = tuple[Point, Point]
Naming = Callable[[int], str]
WIDE_CAP = 1e4
"""Clearances are measured up to this [mm]."""
FARTHEST_GAP = 1000.0
"""Nothing within this is no clearance worth a number [mm]."""
CONTACT_PRIORITY = ("leaf", "leaf going back", "clamp bar", "throat", "bed", "leg")
"""Of several contacts the one that is told: how deep metal would lie in metal says nothing."""


@dataclass(frozen=True)
class Check:
    """One clearance: of ``leg`` (number in the part) on the ``held`` or ``swung`` side against ``name``: "bed", "clamp
    bar", "leaf", "leaf going back", "throat", or "leg" ``other``; ``gap`` [mm]; ``angle`` [deg] of the leaf; the two
    nearest ``points`` in the brake [mm], None where there are none to show.
    """

    name: str
    side: str
    gap: float
    leg: int
    angle: float
    other: int | None = None
    points: PointPair | None = None


@dataclass(frozen=True)
class Passage:
    """Way in or out: ``how`` ("straight", "drawn", "endwise", "" for none); ``front``: gap on the way from the front,
    contact or not; ``room`` between lifted bar and part; ``leg`` that is in the way, -1 for none. Lengths in [mm].
    """

    how: str
    gap: float
    raised: float
    front: float
    room: float
    leg: int = -1


@dataclass(frozen=True)
class Inspection:
    """A stage inspected: ``checks`` from the nearest on; ways ``into`` and ``out``; ``gap`` [mm]: the least of all;
    ``bears``: whether the leaf bears on anything.
    """

    bend: int
    held: WhichSide
    made: int
    checks: tuple[Check, ...]
    into: Passage
    out: Passage
    gap: float
    bears: bool

    @property
    def refused(self) -> bool:
        """Whether the stage cannot be."""
        return self.gap <= 0 or not self.bears


def inspect_stage(situation: Situation, bend: int, held: WhichSide, made: int) -> Inspection:
    """Inspect one stage; ``made``: bends made before it, bit k for bend k."""
    chain, swing = situation.chain, situation.swing(bend, held)
    gauge = Gauge(chain.thickness / 2, WIDE_CAP)
    body = brake_bodies(situation.shop.brake, situation.setup, situation.setting, chain.thickness)
    lift = situation.setup.clamp.lift
    sides = [pieces_of_side(chain, bend, s, 0, _outward(situation, bend, s, made))[0] for s in (held, other_side(held))]
    lies = held_gaps(gauge, sides[0], body, [swing], lift, _all(sides[0]))
    before, after = swung_gaps(gauge, sides[1], body, [swing], lift, _all(sides[1]))
    geometry = _StageGeometry(situation, swing, body, sides[0], sides[1], gauge.half)
    checks = geometry.checks("held", held, bend, lies) + geometry.checks("swung", other_side(held), bend, before)
    checks += geometry.checks("swung", other_side(held), bend, after) + geometry.pairs(bend, held)
    into, out = (
        _with_leg(_passage(situation, lies, way, body), situation, bend, held, sides, (lies, way))
        for way in (before, after)
    )
    ordered = tuple(sorted(checks, key=lambda c: c.gap))
    least = min([into.gap, out.gap, *(c.gap for c in ordered)])
    formed, shop = situation.bends[bend], situation.shop
    flats = costs.flat_costs(chain, bend, held, formed, situation.setup, shop, None, situation.weights)
    bears = flats.swung[chain.first_made(bend, other_side(held), made)] is not None
    return Inspection(bend, held, made, ordered, into, out, least, bears)


def _all(pieces: Pieces) -> Alive:
    return lambda _: np.ones(len(pieces), bool)


def _outward(situation: Situation, bend: int, side: WhichSide, made: int) -> int:
    return sum((made >> near & 1) << k for k, near in enumerate(situation.chain.outward(bend, side)))


def _passage(situation: Situation, h: Gaps, s: Gaps, body: Bodies) -> Passage:
    held, swung = _least(h), _least(s)
    best = max(ways(held, swung, body), key=lambda way: float(way.room[0, 0]))
    front, low, high = float(best.room[0, 0]), float(held["low"][0]), float(held["high"][0]) - best.less
    if low > 1e-9:
        high = min(high, float(swung[lift_key("high", body.short.index(best.less))][0]))
    most = high - low
    if front > 0:
        return Passage(best.how, front, float(best.height[0, 0]), front, most)
    eased = float(min(held["eased"][0], swung["eased"][0]))
    if situation.endwise and eased > 0:
        return Passage("endwise", eased, 0.0, front, most)
    return Passage("", front if not situation.endwise else max(front, eased), 0.0, front, most)


def _least(gaps: Gaps) -> Values:
    """Of all pieces of a side."""
    least = {name: np.array([values.min()]) for name, values in gaps.way.items()}
    return least | {"low": np.array([gaps.low.max()]), "high": np.array([gaps.high.min()])}


def _with_leg(
    passage: Passage, situation: Situation, bend: int, held: WhichSide, sides: list[Pieces], gaps: tuple[Gaps, Gaps]
) -> Passage:
    """With the leg that leaves the least room on the way."""
    if passage.how in ("straight", "drawn"):
        return passage
    worst, leg = math.inf, -1
    for side, pieces, side_gaps in zip((held, other_side(held)), sides, gaps, strict=True):
        passing = [v for n, v in side_gaps.way.items() if n.startswith("straight") or n == "drawn"]
        values = np.minimum(side_gaps.high, np.maximum.reduce(passing))
        place = int(np.argmin(values))
        if values[place] < worst:
            worst = float(values[place])
            leg = situation.chain.legs[situation.chain.leg_beyond(bend, side, int(pieces.steps[place]))]
    return replace(passage, leg=leg)


@dataclass(frozen=True)
class _StageGeometry:
    """Where pieces and bodies of one stage are nearest."""

    situation: Situation
    swing: Swing
    body: Bodies
    held: Pieces
    swung: Pieces
    half: float

    def checks(self, side: str, which: WhichSide, bend: int, gaps: Gaps) -> list[Check]:
        pieces = self.held if side == "held" else self.swung
        checks = []
        for name, values in gaps.rest.items():
            place = int(np.argmin(values))
            gap = float(values[place])
            if not gap < FARTHEST_GAP:
                continue
            turn = float(gaps.at[name][place]) if name in gaps.at else self._angle(side, name, gaps)
            points = self._points(side, name, pieces.take(np.array([place])), turn, name in gaps.at)
            leg = self.situation.chain.leg_beyond(bend, which, int(pieces.steps[place]))
            checks.append(Check(name, side, gap, self.situation.chain.legs[leg], math.degrees(turn), None, points))
        return checks

    def _angle(self, side: str, name: str, gaps: Gaps) -> float:
        finished = side == "swung" and "leaf going back" in gaps.rest
        return float(self.swing.angle) if finished else 0.0

    def pairs(self, bend: int, held: WhichSide) -> list[Check]:
        chain = self.situation.chain
        every = (np.ones(len(self.held), bool), np.ones(len(self.swung), bool))
        one, two, gap, at = pair_gaps(self.held, self.swung, self.swing, self.half, FARTHEST_GAP, every)
        if not len(one):
            return []
        k = int(np.argmin(gap))
        legs = (
            chain.legs[chain.leg_beyond(bend, held, int(self.held.steps[one[k]]))],
            chain.legs[chain.leg_beyond(bend, other_side(held), int(self.swung.steps[two[k]]))],
        )
        still = self._segments(self.held.take(one[k : k + 1]), "held", 0.0, finished=False)
        moved = self._segments(self.swung.take(two[k : k + 1]), "swung", float(at[k]), finished=False)
        points = nearest_points(*moved, *still)
        return [Check("leg", "swung", float(gap[k]), legs[1], math.degrees(float(at[k])), legs[0], points)]

    def _segments(self, pieces: Pieces, side: str, turn: float, *, finished: bool) -> tuple[Floats, Floats]:
        fine, _ = refine(pieces, self.half)
        if side == "held":
            left = self.swing.tangent
            return fine.axis * [-1, 1, -1, 1] + [left, 0, left, 0], fine.reach
        angle = np.full(len(fine), float(self.swing.angle) if finished else turn)
        x, y = self.swing.finished() if finished else self.swing.place(angle)
        return transform(fine.axis, angle, np.broadcast_to(x, angle.shape), np.broadcast_to(y, angle.shape)), fine.reach

    def _points(self, side: str, name: str, piece: Pieces, turn: float, moves: bool) -> PointPair | None:
        finished = name == "leaf going back" or (side == "swung" and not moves)
        axis, reach = self._segments(piece, side, turn, finished=finished)
        if name == "throat":
            k = int(np.argmin(np.minimum(axis[:, 0], axis[:, 2])))
            end = axis[k, :2] if axis[k, 0] < axis[k, 2] else axis[k, 2:]
            wall = self.body.back if self.body.back is not None else 0.0
            return (float(end[0]), float(end[1])), (wall, float(end[1]))
        if name in ("leaf", "leaf going back"):
            segments = _outlines(self.body.leaf)
            flat = np.array([segments[:, :2], segments[:, 2:]])
            flat = flat - [0.0, self.swing.hinge[1] + self.swing.drop]
            c, s = math.cos(turn), math.sin(turn)
            back = np.stack([flat[..., 0] * c - flat[..., 1] * s, flat[..., 0] * s + flat[..., 1] * c], axis=-1)
            back = back + np.array(self.swing.hinge)
            return nearest_points(axis, reach, np.concatenate([back[0], back[1]], axis=1), np.zeros(len(segments)))
        body = self.body.bed if name == "bed" else self.body.bar
        segments = _outlines(body)
        discs = np.array([c[:4] for c in body.capsules]).reshape(-1, 4)
        widths = np.array([c[4] for c in body.capsules])
        return nearest_points(
            axis, reach, np.concatenate([segments, discs]), np.concatenate([np.zeros(len(segments)), widths])
        )


def _outlines(body: Body) -> Floats:
    return np.concatenate([np.concatenate([p, np.roll(p, -1, axis=0)], axis=1) for p in body.polygons])


def nearest_points(one: Floats, reach: Floats, other_: Floats, widths: Floats) -> PointPair:
    """The nearest points of two sets of capsules, on their surfaces: axes (n, 4) and (m, 4), and radii [mm]."""
    if not len(one) or not len(other_):
        raise ValueError("nothing to measure between")
    a, b = np.repeat(one, len(other_), axis=0), np.tile(other_, (len(one), 1))
    r, w = np.repeat(reach, len(other_)), np.tile(widths, len(one))
    froms = np.stack([a[:, :2], a[:, 2:], _feet(b[:, :2], a), _feet(b[:, 2:], a)])
    tos = np.stack([_feet(a[:, :2], b), _feet(a[:, 2:], b), b[:, :2], b[:, 2:]])
    apart = np.hypot(froms[..., 0] - tos[..., 0], froms[..., 1] - tos[..., 1]) - r - w
    way, place = np.unravel_index(int(np.argmin(apart.T)), apart.T.shape)[::-1]
    p, q = froms[way, place], tos[way, place]
    return _on_surfaces(p, q, float(r[place]), float(w[place]))


def _on_surfaces(p: Floats, q: Floats, r: float, w: float) -> PointPair:
    way = q - p
    long = float(np.hypot(*way))
    unit = way / long if long > 1e-9 else np.zeros(2)
    p, q = p + unit * min(r, long), q - unit * min(w, long)
    return (float(p[0]), float(p[1])), (float(q[0]), float(q[1]))


def _feet(points: Floats, segments: Floats) -> Floats:
    """The nearest point of each segment to its own point."""
    d = segments[:, 2:] - segments[:, :2]
    along = ((points - segments[:, :2]) * d).sum(axis=1) / np.maximum((d * d).sum(axis=1), 1e-300)
    return np.asarray(segments[:, :2] + np.clip(along, 0.0, 1.0)[:, None] * d)


def refusal_text(inspection: Inspection, name: Naming) -> str:
    """Why a stage is refused, in words; empty where it is not."""
    if not inspection.refused:
        return ""
    touching = [c for c in inspection.checks if c.gap <= 0]
    if touching:
        return contact_text(min(touching, key=lambda c: CONTACT_PRIORITY.index(c.name)), name)
    if not inspection.bears:
        return "the leaf's face does not reach the swung leg: it bears on nothing"
    for passage, way in ((inspection.out, "out"), (inspection.into, "in")):
        if not passage.how:
            return _trapped(passage, way, name)
    return "it has no room"


def contact_text(check: Check, name: Naming) -> str:
    """A contact in words, with its place."""
    leg, at = name(check.leg), f"at {check.angle:.0f} degrees of the leaf"
    if check.side == "held":
        where = {
            "bed": f"{leg} would lie in the bed",
            "clamp bar": f"{leg} would lie in the clamp bar",
            "throat": f"{leg} would reach into the wall behind the throat",
            "leaf": f"the leaf meets {leg} {at}",
        }
        return where[check.name]
    if check.name == "leg":
        return f"{leg} meets {name(check.other if check.other is not None else -1)} {at}"
    if check.name == "leaf":
        return f"{leg} has no room: it would stand in the leaf"
    if check.name == "leaf going back":
        return f"{leg} is caught by the leaf as it goes back, {at}"
    return f"{leg} meets the {check.name} {at}"


def _trapped(passage: Passage, way: str, name: Naming) -> str:
    who = "the part" if passage.leg < 0 else name(passage.leg)
    if way == "in":
        return f"{who} does not pass under the lifted bar on the way in, and the part cannot slide in endwise"
    return f"the part is trapped on the clamp bar: {who} does not pass the lifted bar, and no end lets it slide out"
