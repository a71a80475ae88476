"""One moment of a stage on paper: the brake cut through, the metal, what moves, and short letters beside them.

Bodies differ in the way of their hatching, what moves in its line type, bends in how their letter is written: nothing
differs in colour alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from flatgen.bend_order.scene import Mark, Metal, Moment, Scene, StageFacts
from flatgen.core.flat_pattern import Point
from flatgen.paper.drawing.ink import HEAD, LARGE, SMALL, Ink, Points
from flatgen.paper.stage_pictures import words
from flatgen.paper.stage_pictures.view import Box, LetterPlacer, Window, outside_boxes

SPECK = 0.1
"""A shorter stroke of hatching is left out [mm on paper]: own choice."""
Pen = Literal["METAL", "BRAKE", "HATCHING", "LIFTED", "MOVED", "SIZES", "RING"]
RING = 2.6
"""Radius of the ring about a touching or close place [mm]."""
HATCH = {"bar": (1.0, 2.2), "bed": (1.0, 4.4), "leaf": (-1.0, 3.4)}
"""Slope and distance [mm] of hatching."""
ZIGZAG = 1.1
SIDEWAYS = 110.0
"""A leaf that swings farther needs room behind the bed's edge for the arrow of its swing [deg]."""
WORTH = 60.0
"""Clearances up to this are shown [mm]."""
LIFT_SHOWN = 40.0
"""A bar that opens farther is shown lifted only where it is in the way [mm]."""
NEAR_NOSE = 45.0
"""Of a held side that is flat to its edge no more than this is shown once more after the bend [mm]."""


def visible_points(scene: Scene, metal: Metal) -> tuple[Points, Points]:
    """Outline of the metal, and all points that must be seen, in the brake [mm]."""
    x, y = scene.line
    points = [(x - 6.0, y), (x, y + 12.0), (4.0, -8.0), *((p[0], p[1] + 2.0) for p in (scene.hinge,))]
    if metal is scene.before:
        nose = min(scene.lifted, key=lambda p: (p[1], -p[0]))
        points += [(nose[0], nose[1] + 3.0)] if nose[1] <= LIFT_SHOWN or scene.stuck is not None else []
    else:
        points += [p for ghost in scene.ghosts for p in ghost] if _ghosts_fit(scene) else []
        points += [p for s in scene.leaf_up for p in s if math.dist(p, scene.hinge) < 15.0]
    near = scene.nearest
    own: Moment = "before" if metal is scene.before else "after"
    if near is not None and near.gap <= WORTH and near.belongs == own:
        points += near.points
    outline = metal.outline
    if metal is not scene.before and metal.flat:
        outline = tuple(p for p in outline if p[0] > x - NEAR_NOSE) or outline
    return metal.outline, (*points, *outline)


def _ghosts_fit(scene: Scene) -> bool:
    reach = max(abs(v) for ghost in scene.ghosts for p in ghost for v in p)
    return reach <= 150.0


@dataclass
class Panel:
    """A window being drawn; ``lost`` are letters that found no room."""

    scene: Scene
    metal: Metal
    window: Window
    facts: StageFacts
    ink: Ink = field(default_factory=Ink)
    lost: list[str] = field(default_factory=list)

    @property
    def before(self) -> bool:
        """Whether it is the moment before bending."""
        return self.metal is self.scene.before

    def draw(self) -> Ink:
        scene = self.scene
        leaf = scene.leaf if self.before else scene.leaf_up
        bodies = {"bed": (scene.bed,), "bar": (scene.bar,), "leaf": leaf}
        for outlines in bodies.values():
            self._outlines("BRAKE", outlines)
            self._breaks(outlines)
        self._moving()
        self._outlines("METAL", (self.metal.outline,))
        self._breaks((self.metal.outline,))
        self._hinge()
        for mark in self.metal.marks:
            if mark.state == "later" and self.before:
                self._tick(mark)
        arc = None if self.before else self._swing_arc()
        spots = self._nearest_place()
        self.placer = LetterPlacer(self._segments(), (0.0, 0.0, self.window.x.size, self.window.y.size))
        if self.before:
            self._letter(words.LINE, self.scene.line, 60.0, arrow=True)
        self._letters(spots)
        if arc is not None:
            self._letter(words.swing(scene.top), arc, math.degrees(math.atan2(arc[1], arc[0])), paper=True)
        self._arrow_of_way()
        boxes = self._names(bodies)
        self._hatch(bodies, boxes)
        return self.ink

    def _outlines(self, pen: Pen, outlines: tuple[Points, ...], *, closed: bool = True) -> None:
        for outline in outlines:
            for run in self.window.polylines(outline, closed=closed):
                self.ink.lines.append((pen, run, False))

    def _breaks(self, outlines: tuple[Points, ...]) -> None:
        for p, q in self.window.breaks(outlines):
            long = math.dist(p, q)
            u, v = (q[0] - p[0]) / long, (q[1] - p[1]) / long
            over = 1.2 if long < 12.0 else 0.0
            a, b = (p[0] - over * u, p[1] - over * v), (q[0] + over * u, q[1] + over * v)
            z = min(ZIGZAG, (long + 2 * over) / 4)
            m = ((p[0] + q[0]) / 2, (p[1] + q[1]) / 2)
            bend = [
                (m[0] - z * u, m[1] - z * v),
                (m[0] - z / 2 * u - z * v, m[1] - z / 2 * v + z * u),
                (m[0] + z / 2 * u + z * v, m[1] + z / 2 * v - z * u),
                (m[0] + z * u, m[1] + z * v),
            ]
            self.ink.lines.append(("SIZES", (a, *bend, b), False))

    def _moving(self) -> None:
        """Bar lifted before; leaf at rest, and the swung side on its way, after."""
        scene = self.scene
        if self.before:
            self._outlines("LIFTED", (scene.lifted,))
            return
        self._outlines("MOVED", scene.leaf)
        for ghost in scene.ghosts:
            self._outlines("MOVED", (ghost,), closed=False)
        near = scene.nearest
        if near is not None and near.belongs == "after":
            self._outlines("MOVED", near.leaf)
            if near.part is not None:
                self._outlines("SIZES", (near.part,))

    def _hinge(self) -> None:
        place = self.window.place(self.scene.hinge)
        if place is not None:
            x, y = place
            self.ink.circles.append(("SIZES", place, 1.3))
            self.ink.lines += [("SIZES", ((x - 2, y), (x + 2, y)), False), ("SIZES", ((x, y - 2), (x, y + 2)), False)]

    def _tick(self, mark: Mark) -> None:
        place = self.window.place(mark.at)
        if place is not None:
            far = self.scene.thickness / 2 * self.window.scale + 1.3
            (x, y), (u, v) = place, mark.away
            self.ink.lines.append(("SIZES", ((x - far * u, y - far * v), (x + far * u, y + far * v)), False))

    def _swing_arc(self) -> Point | None:
        """The arrow of the swing; a place on it for its angle, from the window's corner."""
        scene, window = self.scene, self.window
        hx, hy = scene.hinge
        (first, last), high = window.x.stretch(hx), window.y.stretch(hy)[1] - hy
        face = max(p[0] for s in scene.leaf for p in s) - hx
        room = [last - hx, high, face + 6.0 / window.scale, *([hx - first] if scene.top > SIDEWAYS else [])]
        radius = 0.86 * min(room)
        turns = np.radians(np.linspace(1.0, scene.top - 1.0, 40))
        arc = tuple((hx + radius * math.cos(a), hy + radius * math.sin(a)) for a in turns)
        self._outlines("SIZES", (arc,), closed=False)
        tip = window.place(arc[-1])
        if tip is not None:
            self.ink.head(tip, (-math.sin(turns[-1]), math.cos(turns[-1])))
        places = [p for p in (window.place(arc[k]) for k in (20, 24, 16, 28, 12, 32, 8, 36)) if p is not None]
        return places[0] if places else None

    def _nearest_place(self) -> tuple[Point, str] | None:
        """Dimension or ring at the nearest place: where its letters point, and they."""
        stuck, near = self.scene.stuck, self.scene.nearest
        which = "before" if self.before else "after"
        if self.facts.refused and stuck is not None and stuck[0] == which and (near is None or near.gap > 0):
            return self._ring(self.window.place(stuck[1]), words.STUCK)
        points = self.facts.points or (near.points if near is not None else None)
        if points is None or near is None or near.belongs != which or near.gap > WORTH:
            return None
        ends = [self.window.place(p) for p in points]
        if ends[0] is None or ends[1] is None:
            return None
        p, q = ends[0], ends[1]
        middle = ((p[0] + q[0]) / 2, (p[1] + q[1]) / 2)
        if near.gap <= 0:
            return self._ring(middle, words.TOUCHES)
        self._dimension(p, q)
        if self.facts.close:
            self._ring(middle, "")
        return middle, words.gap(self.facts, near.gap)

    def _ring(self, at: Point | None, text: str) -> tuple[Point, str] | None:
        if at is None:
            return None
        self.ink.circles.append(("RING", at, RING))
        return at, text

    def _dimension(self, p: Point, q: Point) -> None:
        long = math.dist(p, q)
        if long < 1e-6:
            return
        u, v = (q[0] - p[0]) / long, (q[1] - p[1]) / long
        if long >= 3 * HEAD:
            self.ink.lines.append(("SIZES", (p, q), False))
            self.ink.head(p, (-u, -v))
            self.ink.head(q, (u, v))
            return
        far = HEAD + 2.0
        self.ink.lines.append(("SIZES", ((p[0] - far * u, p[1] - far * v), (q[0] + far * u, q[1] + far * v)), False))
        self.ink.head(p, (u, v))
        self.ink.head(q, (-u, -v))

    def _segments(self) -> np.ndarray:
        lines = [points for _, points, _ in self.ink.lines]
        lines += [(*s, s[0]) for s in self.ink.solids]
        for _, (x, y), r in self.ink.circles:
            turns = [math.pi / 6 * k for k in range(13)]
            lines.append(tuple((x + r * math.cos(a), y + r * math.sin(a)) for a in turns))
        pieces = [np.concatenate([np.array(p[:-1]), np.array(p[1:])], axis=1) for p in lines if len(p) > 1]
        return np.concatenate(pieces) if pieces else np.zeros((0, 4))

    def _letters(self, nearest: tuple[Point, str] | None) -> None:
        order = {"now": 0, "made": 1, "later": 2}
        marks = sorted(self.metal.marks, key=lambda m: order[m.state])
        self._mark(marks[0])
        if nearest is not None:
            self._letter(nearest[1], nearest[0], 60.0, paper=True, least=3.5)
        if self.before:
            self._face()
        for mark in marks[1:]:
            if mark.state == "made" or self.before:
                self._mark(mark)
        if self.before:
            self._letter(words.HELD, self._visible_place(self.metal.held), 110.0, arrow=True)
            self._letter(words.SWUNG, self._visible_place(self.metal.swung), -70.0, arrow=True)

    def _face(self) -> None:
        """Which face is up: at the swung leg, or where there is no room at the held one."""
        text, lost = words.face(self.facts), list(self.lost)
        for middle in (self.metal.swung, self.metal.held):
            x, y = self._visible_place(middle)
            if self._letter(text, (x, y + self.scene.thickness / 2), 70.0, arrow=True) is not None:
                self.lost = lost
                return

    def _mark(self, mark: Mark) -> None:
        half = self.scene.thickness / 2
        at = (mark.at[0] + half * mark.away[0], mark.at[1] + half * mark.away[1])
        turn = math.degrees(math.atan2(mark.away[1], mark.away[0]))
        height = LARGE if mark.state == "now" else SMALL
        box = self._letter(words.letter(mark.label, mark.state), at, turn, height=height)
        if box is not None and mark.state == "now":
            a, b, c, d = box
            self.ink.lines.append(("SIZES", ((a, b), (c, b), (c, d), (a, d)), True))

    def _visible_place(self, at: Point) -> Point:
        """A place on straight metal along an axis, moved along it to where it is shown."""
        if self.window.place(at) is not None:
            return at
        x, y = at
        ends = [e for k in self.window.x.kept for e in k]
        ups = [e for k in self.window.y.kept for e in k]
        step = 3.0 / self.window.scale
        candidates = [(e + s * step, y) for e in ends for s in (1, -1)] + [
            (x, e + s * step) for e in ups for s in (1, -1)
        ]
        visible = [p for p in candidates if self.window.place(p) is not None]
        return min(visible, key=lambda p: math.dist(p, at)) if visible else at

    def _letter(
        self,
        text: str,
        at: Point,
        prefer: float,
        *,
        height: float = SMALL,
        paper: bool = False,
        arrow: bool = False,
        least: float = 0.0,
    ) -> Box | None:
        """Short letters with a leader to what they name; their box."""
        place = at if paper else self.window.place(at)
        if place is None or not text:
            return None
        placed = self.placer.put(text, height, place, prefer, 3.5 if arrow else least)
        if placed is None:
            self.lost.append(text)
            return None
        letters, leader = placed
        self.ink.texts.append(letters)
        if leader is not None:
            self.ink.lines.append(("SIZES", leader, False))
            if arrow:
                self.ink.head(leader[1], (leader[1][0] - leader[0][0], leader[1][1] - leader[0][1]))
        return self.placer.boxes[-1]

    def _arrow_of_way(self) -> None:
        """An arrow on the way in or out."""
        text = words.IN.get(self.scene.into, "") if self.before else words.OUT.get(self.scene.out, "")
        if not text or (self.facts.refused and not self.before):
            return
        wide, high = self.window.x.size, self.window.y.size
        spots = np.array(
            [(wide - a, high - b) for b in range(5, int(high) - 4, 4) for a in range(12, int(wide) - 10, 6)]
        )
        along = "along" in text
        spread = f"{text}      "
        placed = self.placer.inside(spread, SMALL, spots)
        if placed is None:
            self.lost.append(text)
            return
        letters, (_, low, right, top) = placed
        self.ink.texts.append(replace(letters, text=text))
        y = (low + top) / 2
        if along:
            self.ink.circles.append(("SIZES", (right - 2.4, y), 1.5))
            for s in (1.06, -1.06):
                self.ink.lines.append(("SIZES", ((right - 2.4 - 1.06, y - s), (right - 2.4 + 1.06, y + s)), False))
            return
        tip, tail = (right - 5.0, right - 0.4) if self.before else (right - 0.4, right - 5.0)
        self.ink.lines.append(("SIZES", ((tail, y), (tip, y)), False))
        self.ink.head((tip, y), (tip - tail, 0.0))

    def _names(self, bodies: dict[str, tuple[Points, ...]]) -> list[Box]:
        boxes = []
        named = (("bar", words.BAR), ("bed", words.BED), ("leaf", words.LEAF))
        for name, text in named if self.before else named[2:]:
            spots = [s for o in bodies[name] for s in self._spots(o)]
            placed = self.placer.inside(text, SMALL, np.array(spots).reshape(-1, 2))
            if placed is not None:
                self.ink.texts.append(placed[0])
                boxes.append(placed[1])
            elif spots:
                lost = list(self.lost)
                self._letter(text, spots[len(spots) // 2], 0.0, paper=True)
                self.lost = lost
        return boxes

    def _spots(self, outline: Points) -> list[Point]:
        """Places inside what is shown of a body, those deep inside first."""
        lines = self.window.hatching((outline,), 0.0, 3.0)
        lines = sorted(lines, key=lambda p: -math.dist(p[0], p[1]))
        spots = []
        for share in (0.5, 0.35, 0.65, 0.2, 0.8):
            spots += [(p[0] + share * (q[0] - p[0]), p[1]) for p, q in lines]
        return spots

    def _hatch(self, bodies: dict[str, tuple[Points, ...]], boxes: list[Box]) -> None:
        """Hatching last, so that it leaves names and leaders free."""
        for name, outlines in bodies.items():
            for line in self.window.hatching(outlines, *HATCH[name]):
                for left in outside_boxes(line, self.placer.boxes):
                    if math.dist(left[0], left[-1]) > SPECK:
                        self.ink.lines.append(("HATCHING", left, False))
