"""Will it come out as sculpted? The suit put together again from what the maker has in hand.

That is: the flat pieces with their outlines, thickness, bevels, trenches and mates; the strain
map, which says how far each part is stretched when it is formed; which face is out; the card
gauges; and tape measures across open rims. Where anything was on the sculpt is read only to
judge the result.

A part of the suit, all pieces that hang together, is laid out by walking distances (`start`)
and settles on a coarse mesh, stiff at first, the soft way last; a finer mesh takes over from
there (`shell`). Of the two mirror images the one that bends as the gauges say is right.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from .. import mesh
from ..errors import ERROR, Finding, FoamError, severity_rank
from ..locate import locate
from ..model import Pattern, Rebuilt
from ..stopping import stoppable
from .assembly import Assembly, assembled
from .judge import Standing, judged
from .known import measures, mould
from .settle import settled
from .shell import Shell
from .start import laid_out
from .told import findings

__all__ = ["rebuild", "tried"]

Progress = Callable[[float, str], bool | None]

COARSE, FINE = 220, 1400  # faces of a part of the suit, about, on either mesh
LARGE = 90.0  # mm2 that a face of the fine mesh of a large part has at least
# Stiffness of bending, steps at most, and whether tapes and gauges are held against it.
FIRST = (100.0, 50, False)
COARSELY = (10.0, 30, False), (10.0, 30, True), (1.0, 15, True)
FINELY = (1.0, 8, True), (0.1, 12, True)
OUTWARDS = 1e-3  # energy that a mm of edge bent outwards by a radian is worth
NEAR, NEARER = 0.1, 0.01  # mm that points still move when a step ends, on either mesh
ROUGH = 3.0  # the same where the coarse mesh, itself off by more, is all that is asked for


@stoppable
def rebuild(pattern: Pattern, built: Pattern | None = None, progress: Progress | None = None,
            quick: bool = False, formed: bool = True) -> Rebuilt:
    """The suit of a pattern put together again and set beside its sculpt.

    built: what was really cut, where that differs from the pattern that was meant. quick: on
    the coarse mesh alone. formed False: no part is stretched as the strain map says, which
    shows how much the result leans on careful forming. Raises FoamError `nothing-to-rebuild`
    and `not-rebuilt`.
    """
    # What is glued on the faces of others follows those.
    pattern, built = pattern.without_laid(), (built or pattern).without_laid()
    if not built.pieces:
        raise FoamError(Finding("nothing-to-rebuild", ERROR, "There are no pieces.",
                                "Add an object to the suit and check it first."))
    say = progress or (lambda share, text: None)
    parts = parts_of(built)
    area = sum(piece.area for piece in built.pieces)
    done, standing = 0.0, []
    for part in parts:
        codes = [piece.code for piece in part.pieces]
        say(done / area, f"Putting {codes[0]} together" if len(codes) == 1 else
            f"Putting {codes[0]} to {codes[-1]} together")
        standing.append(_stood(part, quick, formed))
        done += sum(piece.area for piece in part.pieces)
    say(1.0, "Put together")
    return judged(pattern, standing)


@stoppable
def tried(pattern: Pattern, progress: Progress | None = None, quick: bool = False) -> Pattern:
    """The pattern with what came of putting it together again, once as the strain map says and
    once without, and with what the maker should know of that. Raises FoamError as `rebuild`."""
    say = progress or (lambda share, text: None)
    done = rebuild(pattern, progress=lambda share, text: say(share / 2, text), quick=quick)
    bare = rebuild(pattern, progress=lambda share, text: say(0.5 + share / 2, text), quick=quick,
                   formed=False)
    done = replace(done, unformed=(bare.rms, bare.most))
    found = sorted((*pattern.findings, *findings(pattern, done)), key=severity_rank)
    return replace(pattern, rebuilt=done, findings=tuple(found))


def parts_of(pattern: Pattern) -> list[Pattern]:
    """The patterns of the parts of a suit, each of pieces that hang together."""
    number = {piece.code: k for k, piece in enumerate(pattern.pieces)}
    links = [[number[code] for code, _ in mate.edges] for mate in pattern.mates]
    count, label = mesh.components(len(pattern.pieces), np.array(links or np.empty((0, 2))))
    parts = []
    for part in range(count):
        pieces = tuple(p for p, own in zip(pattern.pieces, label == part, strict=True) if own)
        codes = {p.code for p in pieces}
        parts.append(replace(
            pattern, pieces=pieces,
            mates=tuple(m for m in pattern.mates if m.edges[0][0] in codes),
            tapes=tuple(t for t in pattern.tapes if t.ends[0][0] in codes)))
    return parts


def _stood(part: Pattern, quick: bool, formed: bool) -> Standing:
    area = sum(piece.area for piece in part.pieces)
    coarse = assembled(part, _spacing(area, COARSE), formed)
    known, bends = measures(part, coarse), mould(part, coarse, Shell(coarse, 1.0))
    start, near = laid_out(coarse), ROUGH if quick else NEAR
    tried = []
    for side in (1.0, -1.0):
        bend, steps, _ = FIRST
        shell = Shell(coarse, bend, None, bends)
        x = settled(shell, start * (1.0, 1.0, side), steps, near)
        residual = shell.residual(x)
        # Where no gauge tells, foam bends outwards rather than inwards.
        outwards = shell.length @ shell.angles(x)
        tried.append((float(residual @ residual - OUTWARDS * outwards), side, x))
    x = min(tried)[2]
    for bend, steps, held in COARSELY:
        shell = Shell(coarse, bend, known if held else None, bends)
        x = settled(shell, x, steps, near)
    if quick:
        return Standing(part, shell, x)
    spacing = _spacing(area, max(FINE, area / LARGE))
    fine = assembled(part, spacing, formed)
    x = _carried(coarse, x, fine)
    known, bends = measures(part, fine), mould(part, fine, Shell(fine, 1.0))
    for bend, steps, held in FINELY:
        shell = Shell(fine, bend, known if held else None, bends)
        x = settled(shell, x, steps, NEARER)
    return Standing(part, shell, x)


def _spacing(area: float, faces: float) -> float:
    """Side of the equilateral triangles that so many of fill an area."""
    return float(np.sqrt(4 / np.sqrt(3) * area / faces))


def _carried(coarse: Assembly, x: np.ndarray, fine: Assembly) -> np.ndarray:
    """Positions of the fine vertices (n, 3) on the coarse mesh: a little within its foam, so
    that the two banks of a trench are told apart."""
    corner = np.repeat(fine.flat[fine.faces].mean(axis=1), 3, axis=0)
    vertex = fine.faces.ravel()
    held = np.bincount(vertex, minlength=len(fine.flat))
    inner = np.stack([np.bincount(vertex, c) for c in corner.T], axis=1) / held[:, None]
    at = fine.flat + 1e-3 * (inner - fine.flat)
    found = np.empty((len(fine.flat), 3))
    for piece in range(int(fine.of_vertex.max()) + 1):
        own = fine.of_vertex == piece
        faces = coarse.faces[coarse.of_face == piece]
        face, weight = locate(coarse.flat, faces, at[own])
        found[own] = np.einsum("ki,kij->kj", weight, x[faces[face]])
    return found
