"""How far can the wearer move before plates meet? Coarsely, one joint at a time.

    motions   the movements, and how far people get without armour
    skeleton  where the joints are, and what is worn on which segment of the body
    slabs     pieces as thick foam that a point can be in
    meet      how far one side turns until it meets the other
    told      what the maker should know of it

Plates are rigid and turn with the segment they are worn on, each joint by itself out of the
stance of the sculpt. Flesh, straps that give, shoulders that rise and plates that slide along are
left out; so this tells where to look, and trying on tells how it is.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from .. import order
from ..errors import ERROR, Finding, FoamError, severity_rank
from ..model import Meeting, Movement, Pattern, Piece, Reach, Worn
from ..stopping import stoppable
from .meet import GIVE, STEP, Sides, Touch, about
from .motions import BEYOND, MOTIONS, NAMES, SOURCE, Motion
from .skeleton import Skeleton, segment_of, skeleton
from .slabs import SPACING, slabs
from .told import findings

__all__ = ["NAMES", "SOURCE", "posed", "reached", "turned"]

Progress = Callable[[float, str], bool | None]
LOW, ABOUT = math.radians(60.0), math.radians(30.0)  # arms held out further are first let down
AHEAD = math.radians(90.0)


@stoppable
def reached(pattern: Pattern, wanted: Mapping[str, float] | None = None,
            progress: Progress | None = None) -> Pattern:
    """The pattern with how far its wearer can move, and findings on what falls short.

    wanted: degrees to which movements should get, by their names in NAMES; these alone are tried,
    up to there. None or empty: all of them, as far as people get without armour.
    Raises FoamError `bad-movement`, and `no-movement` for a mock-up.
    """
    _require(pattern, wanted or {})
    say = progress or (lambda share, text: None)
    say(0.0, "Looking for the joints")
    about_body = skeleton(pattern.sculpt, dict(pattern.settings.measures))
    loose = order.loose_parts(pattern)
    parts = [[pattern.piece(code) for code in part.pieces] for part in loose]
    told = {thing.name: thing.worn for thing in pattern.sculpt.objects}
    worn = tuple(
        Worn(part.name, part.pieces, *segment_of(members, told.get(members[0].object, ""),
                                                 about_body))
        for part, members in zip(loose, map(_lowest, parts), strict=True))
    movements, crossing = _movements(parts, worn, about_body, wanted or {}, say)
    found = Reach(about_body.body, worn, movements, crossing)
    every = sorted((*pattern.findings, *findings(pattern, found)), key=severity_rank)
    say(1.0, "Moved")
    return replace(pattern, reach=found, findings=tuple(every))


def posed(pattern: Pattern, movement: Movement, angle: float | None = None) -> Pattern:
    """The pattern as it stands with one movement at an angle, radians; None: as far as it gets."""
    turn, offset = turned(movement, angle)
    moved = set(movement.pieces)
    return replace(pattern, pieces=tuple(
        replace(p, vertices=p.vertices @ turn.T + offset) if p.code in moved else p
        for p in pattern.pieces))


def turned(movement: Movement, angle: float | None = None) -> tuple[np.ndarray, np.ndarray]:
    """Where a movement brings what moves, at an angle or as far as it gets: a point p of the sculpt
    comes to lie at turn (3, 3) @ p + offset (3,)."""
    turn = about(movement.axis, (movement.reached if angle is None else angle)
                 - movement.start) @ movement.lead
    return turn, movement.joint - turn @ movement.joint


def _lowest(part: Sequence[Piece]) -> Sequence[Piece]:
    """The pieces of a part that no other one carries."""
    return [piece for piece in part if piece.base == "body"] or part


def _require(pattern: Pattern, wanted: Mapping[str, float]) -> None:
    if pattern.settings.mock_up:
        raise FoamError(Finding(
            "no-movement", ERROR, "A mock-up is not worn, so there is no movement to try.",
            "Try the movements of the suit itself."))
    for name, angle in wanted.items():
        if name not in NAMES:
            raise FoamError(Finding("bad-movement", ERROR, f"There is no movement “{name}”.",
                                    f"Choose of these: {', '.join(NAMES)}."))
        if not 0 < angle <= 180:  # false for NaN as well
            raise FoamError(Finding("bad-movement", ERROR,
                                    f"{angle:g}° is no angle for “{name}”.",
                                    "Choose degrees from 1 to 180."))


def _movements(parts: Sequence[Sequence[Piece]], worn: Sequence[Worn], about_body: Skeleton,
               wanted: Mapping[str, float], say: Callable[[float, str], object]
               ) -> tuple[tuple[Movement, ...], tuple[tuple[str, str], ...]]:
    pieces = [piece for part in parts for piece in part]
    groups = np.repeat(np.arange(len(parts)), [len(part) for part in parts])
    names = [worn[group].part for group in groups]
    every = slabs(pieces) if pieces else None
    tried = [(motion, side) for motion in MOTIONS if not wanted or motion.name in wanted
             for side in (("left", "right") if motion.sided else ("",))]
    found, crossing = [], set()
    for number, (motion, side) in enumerate(tried):
        beyond = {f"{name} {side}" if motion.limb else name for name in BEYOND[motion.joint]}
        moves = np.array([worn[group].segment in beyond for group in groups], dtype=bool)
        if every is None or not moves.any() or moves.all():
            continue
        say(number / len(tried), "Moving " + motion.what.format(side=side))
        joint = about_body.joints[f"{motion.joint} {side}" if motion.limb else motion.joint]
        axis, lead, start = _turning(motion, side, about_body)
        goal = wanted.get(motion.name)
        most = max(math.radians(goal or motion.most), start)
        sides = Sides(every.of(moves[every.piece]), every.of(~moves[every.piece]), groups, joint,
                      axis)
        sides.rest()
        crossing |= {(worn[a].part, worn[b].part) for (a, b), depth in sides.known.items()
                     if depth + GIVE / 2 > min(p.stock.thickness for p in (*parts[a], *parts[b]))
                     / 2}
        angle, touch = sides.turned(lead, most - start)
        needed = goal or motion.needed
        found.append(Movement(
            motion.name, side, f"{motion.what} {motion.does}".format(side=side), start, most,
            start + angle, None if needed is None else math.radians(needed),
            "" if goal else motion.why, 0.0 if touch is None else _accuracy(touch.radius),
            0.0 if touch is None else touch.radius * max(
                0.0, (math.radians(needed) if needed else most) - start - angle),
            None if touch is None else _meeting(touch, pieces, names),
            tuple(p.code for p, moving in zip(pieces, moves, strict=True) if moving), joint, axis,
            lead))
    return tuple(found), tuple(sorted({tuple(sorted(pair)) for pair in crossing}))


def _meeting(touch: Touch, pieces: Sequence[Piece], names: Sequence[str]) -> Meeting:
    a, b = touch.pieces
    return Meeting((pieces[a].code, pieces[b].code), (names[a], names[b]), touch.point, touch.depth)


def _accuracy(radius: float) -> float:
    """Of an angle, radians: what slabs, steps and the foam's give come to at this radius."""
    return min(math.pi, (SPACING / 2 + STEP + GIVE) / radius)


def _turning(motion: Motion, side: str, about_body: Skeleton
             ) -> tuple[np.ndarray, np.ndarray, float]:
    """Of a movement its axis (3,), what leads to its start (3, 3), and the angle there."""
    left, front, up = about_body.frame
    out = -left if side == "right" else left
    ways = {"up": up, "down": -up, "front": front, "back": -front, "out": out, "in": -out}
    lead, bone = np.eye(3), _bone(motion, side, about_body)
    if motion.joint == "shoulder" and _angle(bone, -up, out) > LOW:
        lead = about(np.cross(-up, out), ABOUT - _angle(bone, -up, out))
    if motion.before:
        lead = about(np.cross(-up, front), AHEAD - _angle(lead @ bone, -up, front)) @ lead
    toward = ways[motion.toward]
    if motion.start == "bone":
        before = _before(motion, side, about_body)
        if abs(before @ toward) > 0.8:  # an arm that is stretched forward bends upward
            toward = up
        toward = toward - (toward @ before) * before
        toward, start = toward / np.linalg.norm(toward), before
    else:
        start = ways[motion.start]
    return (np.cross(start, toward), lead,
            _angle(lead @ bone, start, toward) if motion.limb else 0.0)


def _angle(bone: np.ndarray, start: np.ndarray, toward: np.ndarray) -> float:
    """How far a bone is turned from one direction toward another, seen along the axis."""
    return math.atan2(float(bone @ toward), float(bone @ start))


_ENDS = {"shoulder": "elbow", "elbow": "wrist", "hip": "knee", "knee": "ankle"}


def _bone(motion: Motion, side: str, about_body: Skeleton) -> np.ndarray:
    """The direction of the bone beyond a joint; up, of the trunk."""
    if not motion.limb:
        return about_body.frame[2]
    at = about_body.joints
    bone = at[f"{_ENDS[motion.joint]} {side}"] - at[f"{motion.joint} {side}"]
    return bone / np.linalg.norm(bone)


def _before(motion: Motion, side: str, about_body: Skeleton) -> np.ndarray:
    """The direction of the bone before a joint of a limb."""
    at = about_body.joints
    above = {"elbow": "shoulder", "knee": "hip"}[motion.joint]
    bone = at[f"{motion.joint} {side}"] - at[f"{above} {side}"]
    return bone / np.linalg.norm(bone)
