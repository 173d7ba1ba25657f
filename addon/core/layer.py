"""Thickness: the lengths that each region keeps when it is formed.

A bent sheet keeps its length on the neutral layer, `neutral * t` from the face
on the hollow side of the bend. Rest lengths are taken there edge by edge, so on
a saddle each direction bends about its own side. Normals are fitted from one
side only at seams, trenches and rims: averaging across a fold would shorten or
lengthen the foam by up to t tan(fold / 2).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from . import mesh
from .model import TRENCH, Border, Cut, Layer, Line, Region
from .stock import Stock


def layers(cut: Cut, stocks: list[Stock], sides: list[str], web: float) -> list[Layer]:
    """The length-keeping layer of every region of a cut.

    stocks and sides: per region. web: foam left under a trench, as a fraction of
    the thickness.
    """
    fits = [fit_surface(r.vertices[_leaf_source(r)], r.leaf) for r in cut.regions]
    result = []
    for index, region in enumerate(cut.regions):
        normals, curvature = fits[index]
        line_folds = tuple(_line_fold(region, line, normals) for line in region.lines)
        stock, side = stocks[index], sides[index]
        points = region.vertices[_leaf_source(region)]
        points = points + trench_shift(region, points, normals, line_folds, stock, side, web)
        lengths = rest_lengths(points, normals, region.leaf, stock, side)
        folds = tuple(_border_fold(cut, fits, index, b) for b in range(len(region.borders)))
        skin = rest_lengths(region.vertices[_leaf_source(region)], normals, region.leaf, None, side)
        contact = [mesh.along(skin, b.half).sum() / mesh.along(lengths, b.half).sum()
                   for b in region.borders]
        result.append(Layer(lengths, normals, curvature, folds, line_folds, contact))
    return result


def _leaf_source(region: Region) -> np.ndarray:
    """Region vertex (c,) of every leaf corner."""
    source = np.empty(int(region.leaf.max(initial=-1)) + 1, dtype=np.int64)
    source[region.leaf] = region.faces
    return source


# --- lengths -----------------------------------------------------------------


def rest_lengths(points: np.ndarray, normals: np.ndarray, faces: np.ndarray,
                 stock: Stock | None, side: str) -> np.ndarray:
    """Lengths (m, 3) of the edges opposite each corner, on the neutral layer.

    points, normals (c, 3). Between two surface points whose normals differ by the
    angle a in the plane of the edge, the surface is taken as an arc: its length is
    chord * (a/2) / sin(a/2), and at height h above it (a signed) that + h a: the
    bend allowance a (R + h) of sheet-metal handbooks. h is measured from the
    sculpt's face to the neutral layer and depends on the side to which the edge
    bends. Twist adds h times the part of the normals' difference across the edge.
    stock None: the sculpt's own face, h = 0. An edge that bends more tightly than
    the foam is thick comes out with length <= 0.
    """
    lengths = np.empty(faces.shape)
    out = stock.depths(side)[0] if stock else 0.0
    for corner in range(3):
        i, j = faces[:, (corner + 1) % 3], faces[:, (corner + 2) % 3]
        d, dn = points[j] - points[i], normals[j] - normals[i]
        chord = np.linalg.norm(d, axis=1)
        along = np.einsum("ij,ij->i", d, dn) / np.where(chord > 0, chord, 1.0)
        angle = 2 * np.arcsin(np.clip(along / 2, -1.0, 1.0))
        half = np.abs(angle) / 2
        arc = chord * np.where(half > 1e-9, half / np.sin(np.maximum(half, 1e-9)), 1.0)
        if stock is None:
            lengths[:, corner] = arc
            continue
        hollow = stock.neutral * stock.thickness
        h = out - np.where(angle >= 0, stock.thickness - hollow, hollow)
        bent = arc + h * angle
        across2 = np.maximum(np.einsum("ij,ij->i", dn, dn) - along**2, 0.0)
        lengths[:, corner] = np.sign(bent) * np.sqrt(bent**2 + h**2 * across2)
    return lengths


def trench_shift(region: Region, points: np.ndarray, normals: np.ndarray,
                 line_folds: Sequence[np.ndarray], stock: Stock, side: str, web: float
                 ) -> np.ndarray:
    """Move (c, 3) of the leaf corners beside trenches that gives the flat its length.

    Across a convex trench of fold f: flat = outer face - 2 web tan(f/2) + k web f,
    the tip of the V being the pivot and the web bending round it; across a concave
    one, cut from the front, the same with the inner face. Half of it belongs to
    each side, and fades out over a short band beside the trench.
    """
    shift = np.zeros_like(points)
    front, back = stock.depths(side)
    remain = web * stock.thickness
    centre = np.stack([np.bincount(region.leaf.ravel(), w, minlength=len(points)) for w in
                       np.repeat(points[region.leaf].mean(axis=1), 3, axis=0).T], axis=1)
    centre /= np.bincount(region.leaf.ravel(), minlength=len(points))[:, None]
    for line, fold in zip(region.lines, line_folds, strict=True):
        if line.kind != TRENCH or len(fold) == 0:
            continue
        half = np.abs(fold) / 2
        inward = remain * (np.tan(half) - stock.neutral * half)
        inward -= np.where(fold > 0, front, back) * np.tan(half)
        for corner_ids, position in _banks(region, line):
            _fade(shift, points, normals, centre, corner_ids, inward[position])
    return shift


def _banks(region: Region, line: Line):
    """The leaf corners along each bank of a trench, with their place on the path."""
    for bank in _line_corners(region, line):
        ids = np.concatenate([bank[:, 0], bank[-1:, 1]])
        yield ids, np.arange(len(ids))


def _fade(shift, points, normals, centre, bank, inward) -> None:
    """Add to `shift` a move away from the bank that is full there and fades to nothing."""
    from scipy.spatial import cKDTree

    tangent = np.gradient(points[bank], axis=0)
    across = np.cross(normals[bank], tangent)
    across /= np.maximum(np.linalg.norm(across, axis=1), 1e-12)[:, None]
    toward = np.einsum("ij,ij->i", centre[bank] - points[bank], across)
    across *= np.where(toward < 0, -1.0, 1.0)[:, None]
    step = np.linalg.norm(np.diff(points[bank], axis=0), axis=1).mean()
    reach = max(3 * np.abs(inward).max(), 1.5 * step)
    far, near = cKDTree(points[bank]).query(points, distance_upper_bound=2 * reach)
    hit = np.flatnonzero(np.isfinite(far))
    near = near[hit]
    depth = np.einsum("ij,ij->i", points[hit] - points[bank[near]], across[near])
    own = np.isin(hit, bank)
    fade = np.where(own, 1.0, np.clip(1 - depth / reach, 0, 1) * (depth > 1e-9))
    shift[hit] += (fade * inward[near])[:, None] * across[near]


# --- normals and folds -------------------------------------------------------


def fit_surface(points: np.ndarray, faces: np.ndarray, passes: int = 2
                ) -> tuple[np.ndarray, np.ndarray]:
    """Unit normals (c, 3) and principal curvatures (c, 2) from quadratic fits.

    z = a x + b y + c x2 + d x y + e y2 is fitted by least squares over each
    point's two rings of neighbours on its own side only, which is free of the
    half-facet tilt that averaged normals have at rims. Curvatures are positive
    where the outside is convex, the larger one first.
    """
    from scipy.sparse import coo_matrix

    count = len(points)
    i, j = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    ring = coo_matrix((np.ones(len(i), np.float32), (i, j)), shape=(count, count)).tocsr()
    ring = ring + ring.T
    near = (ring @ ring + ring).tocoo()
    keep = near.row != near.col
    row, col = near.row[keep], near.col[keep]
    normals = mesh.vertex_normals(points, faces, count)
    offset = points[col] - points[row]
    size = np.bincount(row, minlength=count)
    for _ in range(passes):
        x_axis = np.where(np.abs(normals[:, :1]) < 0.8, [[1.0, 0.0, 0.0]], [[0.0, 1.0, 0.0]])
        x_axis = np.cross(normals, x_axis)
        x_axis /= np.maximum(np.linalg.norm(x_axis, axis=1), 1e-300)[:, None]
        y_axis = np.cross(normals, x_axis)
        x, y, z = (np.einsum("ij,ij->i", offset, axis[row]) for axis in (x_axis, y_axis, normals))
        scale = np.sqrt(np.bincount(row, x * x + y * y, count) / np.maximum(size, 1))
        scale = np.maximum(scale, 1e-300)
        x, y, z = x / scale[row], y / scale[row], z / scale[row]
        terms = np.stack([x, y, x * x, x * y, y * y], axis=1)
        matrix = np.empty((count, 5, 5))
        right = np.empty((count, 5))
        for p in range(5):
            right[:, p] = np.bincount(row, terms[:, p] * z, count)
            for q in range(p, 5):
                matrix[:, p, q] = np.bincount(row, terms[:, p] * terms[:, q], count)
                matrix[:, q, p] = matrix[:, p, q]
        # A trace of damping keeps points with too few neighbours at their averaged normal.
        damping = 1e-7 * np.trace(matrix, axis1=1, axis2=2) + 1e-12
        matrix += damping[:, None, None] * np.eye(5)
        fit = np.linalg.solve(matrix, right[..., None])[..., 0]
        normals = normals - fit[:, :1] * x_axis - fit[:, 1:2] * y_axis
        normals /= np.linalg.norm(normals, axis=1)[:, None]
    xx, xy, yy = (fit[:, k] / scale for k in (2, 3, 4))
    mean, spread = -(xx + yy), np.sqrt((xx - yy) ** 2 + xy**2)
    return normals, np.stack([mean + spread, mean - spread], axis=1)


def fold_angle(tangent: np.ndarray, normal: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Signed fold (k,) from one side's normals to the other's, seen from the one side.

    tangent (k, 3) runs with the side's foam on its left. Convex folds are positive.
    """
    tangent = tangent / np.maximum(np.linalg.norm(tangent, axis=1), 1e-300)[:, None]
    flat = lambda n: n - np.einsum("ij,ij->i", n, tangent)[:, None] * tangent  # noqa: E731
    normal, other = flat(normal), flat(other)
    outward = np.cross(tangent, normal)
    return np.arctan2(np.einsum("ij,ij->i", outward, other), np.einsum("ij,ij->i", normal, other))


def _corners(region: Region, half: np.ndarray) -> np.ndarray:
    """Leaf corners (k, 2) at the start and at the end of half-edges (k,)."""
    leaf = region.leaf.ravel()
    return np.stack([leaf[half], leaf[mesh.after(half)]], axis=1)


def _line_corners(region: Region, line: Line) -> tuple[np.ndarray, np.ndarray]:
    """Leaf corners (k-1, 2) at both ends of each edge of a line, on its left and its right."""
    return _corners(region, line.left), _corners(region, line.right)[:, ::-1]


def _line_fold(region: Region, line: Line, normals) -> np.ndarray:
    """Fold (k,) at each vertex of a trench or score line."""
    left, right = _line_corners(region, line)
    points = region.vertices[line.vertices]
    fold = [fold_angle(np.diff(points, axis=0), normals[left[:, e]], normals[right[:, e]])
            for e in (0, 1)]
    total = np.append(fold[0], 0.0) + np.append(0.0, fold[1])
    shared = np.full(len(points), 2.0)
    shared[[0, -1]] = 1.0
    return total / shared


def _border_fold(cut: Cut, fits, index: int, border_index: int) -> np.ndarray:
    region = cut.regions[index]
    border = region.borders[border_index]
    if border.seam < 0:
        return np.zeros(len(border.vertices))
    seam = cut.seams[border.seam]
    other_index, other_border = seam.sides[1 if border.forward else 0]
    other = cut.regions[other_index]
    mine = _border_normals(region, border, fits[index][0])
    theirs = _border_normals(other, other.borders[other_border], fits[other_index][0])
    points = region.vertices[border.vertices]
    return fold_angle(_tangents(points), mine, theirs[::-1])


def _border_normals(region: Region, border: Border, normals) -> np.ndarray:
    """Normals (k, 3) at a border's vertices; where trenches meet it, the mean of the leaves."""
    corner = _corners(region, border.half)
    total = np.concatenate([normals[corner[:, 0]], np.zeros((1, 3))])
    total[1:] += normals[corner[:, 1]]
    return total / np.linalg.norm(total, axis=1)[:, None]


def _tangents(points: np.ndarray) -> np.ndarray:
    """Directions (k, 3) along a polyline; a ring closes on itself."""
    if len(points) > 2 and np.allclose(points[0], points[-1]):
        wrapped = np.concatenate([points[-2:-1], points, points[1:2]])
        return wrapped[2:] - wrapped[:-2]
    return np.gradient(points, axis=0)
