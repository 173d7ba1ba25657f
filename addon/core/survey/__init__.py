"""A look over the sculpt before any seam is drawn: how large is it, what is it made of, what is
torn, loose or turned over?

    sculpt -> faults -> parts, rims and splits -> kinds of shell -> sizes

Says more than a check does: much of it is only worth a glance, since an eye hole looks like
any other hole. Repairs nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from .. import raised, skin, soundness
from ..errors import ERROR, NOTE, Finding, severity_rank
from ..model import Sculpt
from ..stock import shipped
from ..units import format_length
from . import size
from .hanging import Hanging, findings

__all__ = ["Survey", "look_over"]


@dataclass(frozen=True, eq=False)
class Survey:
    """What one object of a sculpt is.

    size (3,): of the box round it, mm. parts: how many do not hang together. rims: how many
    lines it ends at. kinds: how many parts are of each kind of shell, empty where faults keep
    that from being told. wall: of its double-walled parts, mm; 0 without any.
    """

    name: str
    size: tuple[float, float, float]
    parts: int
    rims: int
    kinds: Mapping[str, int]
    wall: float = 0.0

    def words(self, unit: str = "mm") -> str:
        """What it is made of, in a maker's words; unit: for lengths, mm or in."""
        if not self.kinds:
            return "To be told once its faults are mended"
        wall = f", wall about {format_length(round(self.wall, 1), unit)}"
        named = [_KINDS[kind] for kind in _KINDS if self.kinds.get(kind)]
        counts = [self.kinds[kind] for kind in _KINDS if self.kinds.get(kind)]
        parts = [(one if count == 1 else f"{count} {many}") + wall * (one == _DOUBLE)
                 for count, (one, many) in zip(counts, named, strict=True)]
        text = "; ".join(parts)
        return text[0].upper() + text[1:]


_DOUBLE = "double-walled"
_KINDS = {skin.OPEN: ("single surface", "single surfaces"),
          skin.DOUBLE: (_DOUBLE, "double-walled parts"),
          skin.SOLID: ("closed solid", "closed solids")}


def look_over(sculpt: Sculpt, worn: Mapping[str, str] | None = None,
              wearer: Mapping[str, float] | None = None,
              progress: Callable[[float, str], None] | None = None
              ) -> tuple[tuple[Survey, ...], tuple[Finding, ...]]:
    """A survey of each object with faces, and everything found, most serious first.

    worn: where objects are worn, names of measures.WORN by the objects' names; of the others
    their names may tell. wearer: own measures in mm by their names. progress is told the share
    done (0 to 1) and what is being done. Raises FoamError `no-faces`.
    """
    say = progress or (lambda share, text: None)
    say(0.0, "Looking for faults")
    found = list(sculpt.findings) + list(soundness.faults(sculpt))
    sound = not any(finding.severity == ERROR and finding.code != "implausible-size"
                    for finding in found)
    say(0.3, "Looking for walls")
    shells = skin.shells(sculpt) if sound else []
    for shell in shells:
        if shell.kind == skin.DOUBLE:
            found.append(skin.double_walled(sculpt, shell))
        elif shell.kind == skin.SOLID:
            found.append(_solid(shell))
    if sound:
        say(0.6, "Looking for raised shapes")
        found += raised.findings(sculpt, raised.raised(sculpt), list(shipped().values()))
    surveys = []
    for number in np.unique(sculpt.face_object):
        say(0.8, "Looking for loose parts and holes")
        name = sculpt.objects[number].name
        faces = np.flatnonzero(sculpt.face_object == number)
        hanging = Hanging.of(sculpt, faces)
        found += findings(sculpt, hanging, name)
        mine = [s for s in shells if sculpt.face_object[s.faces[0]] == number]
        surveys.append(Survey(
            name, size.box(sculpt, faces), hanging.count, len(hanging.rims),
            {kind: sum(s.kind == kind for s in mine) for kind in {s.kind for s in mine}},
            max((s.wall for s in mine), default=0.0)))
    if not any(finding.code == "implausible-size" for finding in found):
        found += size.findings(sculpt, surveys, worn or {}, wearer)
    return tuple(surveys), tuple(sorted(found, key=severity_rank))


def _solid(shell: skin.Shell) -> Finding:
    return Finding(
        "closed-solid", NOTE,
        "This part is closed all round, without a wall that foam could be.",
        "Select the faces that are not to be built, such as its underside, and choose Not Built; "
        "or part it with seams.", faces=shell.faces)
