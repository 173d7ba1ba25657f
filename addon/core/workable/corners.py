"""Do the mitres close where three and more pieces meet in a point?

On either face of the foam each piece ends in its own plane, offset from the sculpt's
surface along its normal. The two mitres of a piece meet where its plane cuts those of
both neighbours. Three planes have one point in common, so three pieces always close;
with more, the points differ and the foam gapes by the distance between them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from .. import mesh
from ..errors import NOTE, Finding
from ..model import Cut, Layer, Piece, Region
from ..units import format_angle, format_length

OPEN = 1.0  # mm that contact cement and a squeeze close, whatever the foam; common practice
WILD = 2.0  # thicknesses beyond which a gap is only said to be more
STEADY = 0.2  # singular value of three normals below which their planes fix no point: the pieces
# then meet at bevels below about 8 degrees, and the foam gives that much


@dataclass(frozen=True)
class Sector:
    """The corner of a region between a border that ends in a junction and the next one."""

    region: int
    ends: int
    starts: int


def junction_findings(cut: Cut, layers: Sequence[Layer], pieces: Sequence[Piece]
                      ) -> list[Finding]:
    """`corner-open`: junctions whose mitres or flat corner angles leave more than OPEN.

    Junctions on a rim, which nothing closes, and those where a trench ends, which gives,
    are left out. Where a smooth surface is flattened with strain the flat corners differ from
    the formed ones as well; that too is only told.
    """
    found = []
    for sectors in junctions(cut):
        normals = [_normal(cut.regions[s.region], layers[s.region], s) for s in sectors]
        if any(n is None for n in normals):
            continue
        own = [pieces[s.region] for s in sectors]
        t = min(p.stock.thickness for p in own)
        gaps = mitre_gaps(np.array(normals), np.array([p.stock.depths(p.side) for p in own]))
        off = [_excess_angle(cut.regions[s.region], p, s)
               for s, p in zip(sectors, own, strict=True)]
        gap, angle = float(gaps.max()), max(off, key=abs)
        if max(gap, t * abs(angle)) <= OPEN:
            continue
        region = cut.regions[sectors[0].region]
        vertex = region.source_vertex[region.borders[sectors[0].starts].vertices[0]]
        names = ", ".join(dict.fromkeys(p.code for p in own))
        if gap >= t * abs(angle):
            by = (f"more than {format_length(WILD * t)}" if gap > WILD * t else
                  f"about {format_length(gap)}")
            what = f"their mitres miss each other by {by} inside the foam"
        else:
            flat = own[off.index(angle)].code
            more = "more" if angle > 0 else "less"
            what = (f"the flat corner of {flat} has {format_angle(abs(angle))} {more} than the "
                    f"formed one, about {format_length(t * abs(angle))} over the thickness")
        found.append(Finding(
            "corner-open", NOTE, f"Where {names} meet in a point, {what}.",
            "Trim the tips on the inside until the corner closes, and fill what stays open.",
            vertices=[vertex]))
    return found


def junctions(cut: Cut) -> Iterator[list[Sector]]:
    """Every vertex wholly surrounded by three and more seams, as its sectors in turn."""
    onward: dict[tuple[int, int], tuple[Sector, tuple[int, int] | None]] = {}
    for r, region in enumerate(cut.regions):
        for loop in region.loops:
            for ends, starts in zip(loop, (*loop[1:], loop[0]), strict=True):
                border = region.borders[starts]
                following = (None if border.seam < 0 else
                             cut.seams[border.seam].sides[1 if border.forward else 0])
                onward[r, ends] = Sector(r, ends, starts), following
    seen: set[tuple[int, int]] = set()
    for key in onward:
        turn, at = [], key
        while at is not None and at not in seen:
            seen.add(at)
            sector, at = onward[at]
            turn.append(sector)
        if at == key and len(turn) >= 3:
            yield turn


def mitre_gaps(normals: np.ndarray, depths: np.ndarray) -> np.ndarray:
    """Gap (k, 2) between the ends of each mitre on its two sides, on the front and the back.

    normals (k, 3) of the pieces in turn round a junction; depths (k, 2): distance of each
    one's front outward from the sculpt's face and of its back inward. 0 where an end is free.
    """
    ends = np.stack([mitre_ends(normals, depths[:, 0]), mitre_ends(normals, -depths[:, 1])], 1)
    return np.nan_to_num(np.linalg.norm(ends - np.roll(ends, -1, axis=0), axis=2))


def mitre_ends(normals: np.ndarray, heights: np.ndarray) -> np.ndarray:
    """Where (k, 3) the two mitres of each piece meet, relative to the junction: the point that
    the planes n x = height of a piece and both its neighbours share (a 3 x 3 linear system;
    derived), NaN where they fix none."""
    trio = lambda a: np.stack([np.roll(a, 1, axis=0), a, np.roll(a, -1, axis=0)], 1)  # noqa: E731
    planes, right = trio(normals), trio(heights)
    steady = np.linalg.svd(planes, compute_uv=False)[:, -1] > STEADY
    ends = np.full(normals.shape, np.nan)
    ends[steady] = np.linalg.solve(planes[steady], right[steady][..., None])[..., 0]
    return ends


def _corner(region: Region, sector: Sector) -> np.ndarray:
    """Which corners (m, 3) of the region's faces lie in the sector's vertex."""
    return region.faces == region.borders[sector.starts].vertices[0]


def _normal(region: Region, layer: Layer, sector: Sector) -> np.ndarray | None:
    """The normal (3,) of a sector, or None where a trench divides it."""
    leaves = np.unique(region.leaf[_corner(region, sector)])
    return layer.normals[leaves[0]] if len(leaves) == 1 else None


def _excess_angle(region: Region, piece: Piece, sector: Sector) -> float:
    """Angle by which the flat corner is wider than the one on the sculpt; 0 for a piece that
    cannot be formed, whose flat is not the one to cut."""
    if piece.verdict.kind == "relief":
        return 0.0
    corner = _corner(region, sector)
    faces = region.faces[corner.any(axis=1)]
    here = corner[corner.any(axis=1)]
    flat = np.column_stack([piece.flat, np.zeros(len(piece.flat))])
    return float((mesh.corner_angles(flat, faces) - mesh.corner_angles(region.vertices, faces)
                  )[here].sum())
