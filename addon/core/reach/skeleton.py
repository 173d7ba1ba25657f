"""Where the wearer's joints are, and which segment of the body each part is worn on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..figure import figure
from ..measures import ANYWHERE, guessed
from ..model import Body, Piece, Sculpt

PERSON = 1300.0  # mm: what is less tall is no whole person, and has no joints to be found
TRUNK = (0.55, 0.78)  # heights of the trunk, as shares of a person's
NARROW = 0.06  # of their height: as far to the side the trunk is surely the trunk
HANDS = 0.40  # of their height, below which no hand hangs that is held out
ASIDE = 0.02  # of their height, by which such a hand is at least farther out than the shoulder
LONG = 0.37  # of their height, from the shoulder to where the figure's fingers end
SOLES = 0.03  # of their height: what is lower is a foot
# Where a part named for a place moves with: a gorget rests on the shoulders, a pauldron is tied
# to the arm (common practice, no source).
SEGMENTS = {"head": "head", "neck": "chest", "torso": "chest", "hips": "pelvis",
            "shoulder": "upper arm", "upper arm": "upper arm", "forearm": "forearm",
            "thigh": "thigh", "lower leg": "lower leg"}
# Radii of segments as shares of the height, near the girths of core.figure.
ROUND = {"head": 0.048, "chest": 0.062, "pelvis": 0.066, "upper arm": 0.029, "forearm": 0.024,
         "thigh": 0.047, "lower leg": 0.033}
LIMBS = {"upper arm": ("shoulder", "elbow"), "forearm": ("elbow", "wrist"),
         "thigh": ("hip", "knee"), "lower leg": ("knee", "ankle")}
BROAD = 0.045  # of the height, by which the trunk is wider to each side than it is deep
FAR = 150.0  # mm from a segment's skin, from which a part does not lie on it


@dataclass(frozen=True, eq=False)
class Skeleton:
    """joints (3,) mm, by the names of core.figure; frame (3, 3): unit vectors to the wearer's
    left, to the front and up; tall: height, mm; body: its name, "" for a figure of ours."""

    joints: Mapping[str, np.ndarray]
    frame: np.ndarray
    tall: float
    body: str

    @property
    def middle(self) -> float:
        """Of the body, along the direction to its left."""
        return float(self.joints["waist"] @ self.frame[0])

    def bones(self) -> dict[str, list[tuple[np.ndarray, np.ndarray]]]:
        """The lines in each segment, by its name with its side."""
        at, (left, _, up) = self.joints, self.frame
        hips = (at["hip left"] + at["hip right"]) / 2
        wide = [shift * BROAD * self.tall * left for shift in (-1.0, 0.0, 1.0)]
        found = {"head": [(at["neck"] + 0.05 * self.tall * up, at["neck"] + 0.1 * self.tall * up)],
                 "chest": [(at["waist"] + w, at["neck"] - 0.05 * self.tall * up + w)
                           for w in wide],
                 "pelvis": [(hips + w, at["waist"] + w) for w in wide]}
        for side in ("left", "right"):
            for name, ends in LIMBS.items():
                found[f"{name} {side}"] = [tuple(at[f"{end} {side}"] for end in ends)]
        return found


def skeleton(sculpt: Sculpt, measures: Mapping[str, float]) -> Skeleton:
    """The joints of the sculpt's body, guessed from its height and where its hands and feet are;
    without a whole person those of the figure, which stands on the floor about the origin.

    measures: the wearer's own, mm. Raises FoamError `bad-measure` for a height no figure has.
    """
    up = sculpt.up
    frame = np.stack([np.cross(up, sculpt.front), sculpt.front, up])
    body = sculpt.body
    whole = body is not None and float(np.ptp(body.vertices @ up)) >= PERSON
    tall = float(np.ptp(body.vertices @ up)) if whole else measures.get("stature")
    own = figure({"stature": tall} if tall else {})
    # The figure looks along -y and stands upright: its left, front and up are x, -y and z.
    turn = np.array([[1.0, 0, 0], [0, -1, 0], [0, 0, 1]])
    local = {name: turn @ place for name, place in own.joints.items()}
    height = float(np.ptp(own.body.vertices[:, 2]))
    if whole:
        local = _moved(local, Body(own.body.vertices @ turn.T, own.body.faces),
                       body.vertices @ frame.T, height)
    return Skeleton({name: frame.T @ place for name, place in local.items()}, frame, height,
                    body.name if whole else "")


def _moved(joints: dict[str, np.ndarray], own: Body, points: np.ndarray, tall: float
           ) -> dict[str, np.ndarray]:
    """Joints of the figure set into a body (n, 3) of its height: its trunk where that's is, its
    arms and legs turned as that's are. All along left, front and up."""
    shift = _trunk(points, tall) - _trunk(own.vertices, tall)
    moved = {name: place + shift for name, place in joints.items()}
    floor = float(points[:, 2].min())
    for side, sign in (("left", 1.0), ("right", -1.0)):
        for root, beyond, tip in (("shoulder", ("elbow", "wrist"), _hand),
                                  ("hip", ("knee", "ankle"), _foot)):
            base = moved[f"{root} {side}"]
            there = tip(points, base, sign, floor, tall)
            here = tip(own.vertices + shift, base, sign, floor, tall)
            turn = _between(here - base, there - base)
            size = np.linalg.norm(there - base) / np.linalg.norm(here - base)
            for name in beyond:
                place = moved[f"{name} {side}"]
                moved[f"{name} {side}"] = base + size * (turn @ (place - base))
    return moved


def _trunk(points: np.ndarray, tall: float) -> np.ndarray:
    """The middle (3,) of a body's trunk, at the height of its soles."""
    floor = points[:, 2].min()
    share = (points[:, 2] - floor) / tall
    middle = (points[:, 0].min() + points[:, 0].max()) / 2
    own = points[(share > TRUNK[0]) & (share < TRUNK[1])
                 & (np.abs(points[:, 0] - middle) < NARROW * tall)]
    depth = (own[:, 1].min() + own[:, 1].max()) / 2 if len(own) else points[:, 1].mean()
    return np.array([middle, depth, floor])


def _hand(points: np.ndarray, shoulder: np.ndarray, side: float, floor: float, tall: float
          ) -> np.ndarray:
    """The point of a body's arm that is farthest from its shoulder; where none is held out, an arm
    hangs straight down."""
    arm = points[(side * (points[:, 0] - shoulder[0]) > ASIDE * tall)
                 & (points[:, 2] > floor + HANDS * tall)]
    if not len(arm):
        return shoulder - (0.0, 0.0, LONG * tall)
    return arm[np.argmax(np.linalg.norm(arm - shoulder, axis=1))]


def _foot(points: np.ndarray, hip: np.ndarray, side: float, floor: float, tall: float
          ) -> np.ndarray:
    """The middle of a body's foot; where there is none, a leg stands straight."""
    foot = points[(side * points[:, 0] > side * hip[0] - 0.056 * tall)
                  & (points[:, 2] < floor + SOLES * tall)]
    if not len(foot):
        return np.array([hip[0], hip[1], floor])
    return (foot.min(axis=0) + foot.max(axis=0)) / 2


def _between(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """The least rotation (3, 3) that turns one direction into another."""
    from scipy.spatial.transform import Rotation

    return Rotation.align_vectors([other / np.linalg.norm(other)],
                                  [one / np.linalg.norm(one)])[0].as_matrix()


def segment_of(part: Sequence[Piece], told: str, about: Skeleton) -> tuple[str, bool, float]:
    """The segment a part is worn on, whether that was told, and how far it is off it, mm.

    told: where its object is worn, a place of core.measures; "": as the object's name says. What
    is worn anywhere goes with the segment it is nearest to; of two as near the upper one.
    """
    place = told or guessed(part[0].object)
    points = np.concatenate([piece.vertices[piece.faces].mean(axis=1) for piece in part])
    area = np.concatenate([np.linalg.norm(np.cross(
        piece.vertices[piece.faces[:, 1]] - piece.vertices[piece.faces[:, 0]],
        piece.vertices[piece.faces[:, 2]] - piece.vertices[piece.faces[:, 0]]), axis=1)
        for piece in part])
    share = area / max(area.sum(), 1e-300)
    side = "left" if share @ points @ about.frame[0] >= about.middle else "right"
    away = {name: float(share @ np.min([_distance(points, *bone) for bone in bones], axis=0))
            - ROUND[name.removesuffix(" left").removesuffix(" right")] * about.tall
            for name, bones in about.bones().items()}
    if place != ANYWHERE:
        name = SEGMENTS[place]
        name = name if name in away else f"{name} {side}"
        return name, True, away[name]
    name = min(away, key=lambda name: round(away[name]))
    return name, False, away[name]


def _distance(points: np.ndarray, start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Distances (k,) of points (k, 3) from a straight line between two."""
    along = end - start
    t = np.clip((points - start) @ along / max(along @ along, 1e-300), 0.0, 1.0)
    return np.linalg.norm(points - start - t[:, None] * along, axis=1)
