"""The movements that are tried, and how far people get without armour."""

from __future__ import annotations

from dataclasses import dataclass

# What lies beyond each joint and moves with it; sides are added to those of limbs.
BEYOND = {
    "neck": ("head",),
    "waist": ("chest", "head", "upper arm left", "forearm left", "upper arm right",
              "forearm right"),
    "shoulder": ("upper arm", "forearm"), "elbow": ("forearm",),
    "hip": ("thigh", "lower leg"), "knee": ("lower leg",)}
SOURCE = ("American Academy of Orthopaedic Surgeons, Joint Motion: Method of Measuring and "
          "Recording (1965)")


@dataclass(frozen=True)
class Motion:
    """A movement: what its joint's bone points along at 0 degrees, and after a quarter turn.

    Directions are up, down, front, back, out and in (from the middle of the body), and bone: along
    the bone before the joint. most: degrees that people reach; needed: degrees that `why` asks for.
    """

    name: str
    joint: str
    what: str
    does: str
    start: str
    toward: str
    most: float
    needed: float | None = None
    why: str = ""
    before: str = ""  # movement by a quarter turn that leads to where this one starts
    sided: bool = True

    @property
    def limb(self) -> bool:
        """Whether the joint itself is there on both sides."""
        return self.joint not in ("neck", "waist")


# Ranges: those of SOURCE, from memory; its 20 to 30 degrees for bending back are 25 here, and its
# 135 degrees of swinging the arm inward begin at the side, so they are 45 from the front.
# What is needed: bending the elbow to 130 degrees for everyday tasks is from Morrey, Askew and
# Chao, Journal of Bone and Joint Surgery 63-A, 1981, from memory; all else is common practice, no
# source.
MOTIONS = (
    Motion("head forward", "neck", "the head", "nods forward", "up", "front", 45, 20,
           "see one's feet and steps", sided=False),
    Motion("head back", "neck", "the head", "leans back", "up", "back", 45, sided=False),
    Motion("head aside", "neck", "the head", "leans to the {side}", "up", "out", 45),
    Motion("head turned", "neck", "the head", "turns to the {side}", "front", "out", 60, 45,
           "see what comes from the side"),
    Motion("torso forward", "waist", "the torso", "bends forward", "up", "front", 80, 30,
           "sit down and rise", sided=False),
    Motion("torso back", "waist", "the torso", "bends back", "up", "back", 25, sided=False),
    Motion("torso aside", "waist", "the torso", "bends to the {side}", "up", "out", 35),
    Motion("torso turned", "waist", "the torso", "turns to the {side}", "front", "out", 45),
    Motion("arm forward", "shoulder", "the {side} arm", "lifts forward", "down", "front", 180, 90,
           "reach a door or a rail"),
    Motion("arm back", "shoulder", "the {side} arm", "swings back", "down", "back", 60),
    Motion("arm out", "shoulder", "the {side} arm", "lifts out to the side", "down", "out", 180,
           60, "get into a coat, and keep one's balance"),
    Motion("arm across", "shoulder", "the {side} arm", "swings inward from straight ahead",
           "front", "in", 45, before="arm forward"),
    Motion("forearm bent", "elbow", "the {side} forearm", "bends", "bone", "front", 150, 130,
           "drink, and get at one's helmet"),
    Motion("thigh forward", "hip", "the {side} thigh", "lifts forward", "down", "front", 120, 90,
           "sit"),
    Motion("thigh back", "hip", "the {side} thigh", "swings back", "down", "back", 30, 10, "walk"),
    Motion("thigh out", "hip", "the {side} thigh", "lifts out to the side", "down", "out", 45),
    Motion("knee bent", "knee", "the {side} knee", "bends", "bone", "back", 135, 90,
           "sit, and climb stairs"),
)
NAMES = tuple(motion.name for motion in MOTIONS)
