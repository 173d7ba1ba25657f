"""Card gauges: the curve of a piece's inner face along one or two straight lines of its flat.

A maker heats a piece and bends it until the card fits from behind. One gauge lies in the
direction in which the piece bends most; a second one across it where it bends that way too.
"""

from __future__ import annotations

import numpy as np

from .bends import shape_operator, smooth_points
from .inset import inset
from .locate import locate
from .model import BACK, TRENCH, Fold, Gauge, Layer, Region, Verdict
from .stock import Stock

FLAT = 1.0  # mm of rise over the whole line that nobody would gauge
STEP = 3.0  # mm between points of a profile
SHORTEST = 25.0  # mm of line
LESS = 0.9  # of its length that is left where a line goes round farther than a card reaches
MOST = 1500  # faces looked at for the direction
CLEAR = 5.0  # mm that a line, and the crosses at its ends, keep from outlines and trenches
OFFSETS = np.linspace(-0.3, 0.3, 7)  # of the piece's width beside its middle: lines tried
ASIDE = 0.5  # of its length a line may be shorter for each share of the width nearer the middle


def gauges(region: Region, layer: Layer, flat: np.ndarray, back: tuple[np.ndarray, ...],
           folds: tuple[Fold, ...], stock: Stock, side: str, verdict: Verdict
           ) -> tuple[Gauge, ...]:
    """The gauges of a region laid flat at points (n, 2); none for a piece that lies flat.

    back: the outline of the foam's inner face; folds: the piece's trenches and score lines.
    """
    if verdict.kind == "flat":
        return ()
    some = np.unique(np.linspace(0, len(region.faces) - 1, MOST).astype(int))
    corners = flat[region.faces[some]]
    u, v = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    area = (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2
    good = area > 1e-3 * area.mean()
    shape = shape_operator(region, layer, corners[good], some[good])
    square = np.einsum("m,mij,mjk->ik", area[good], shape, shape)
    axes = np.linalg.eigh(square)[1][:, ::-1].T
    body = _free(back, folds)
    found = []
    for axis in axes:
        line = _longest(body, flat, axis)
        if line is not None and (gauge := _gauge(region, layer, flat, line, stock, side)):
            found.append(gauge)
    return tuple(found)


def _free(back, folds):
    """Where a gauge can lie on the inner face: clear of its outline and of trenches."""
    import shapely

    body = inset(shapely.make_valid(shapely.Polygon(back[0], back[1:])), CLEAR)
    trenches = [shapely.LineString(f.points).buffer(
        CLEAR + (f.mouth / 2 if f.side == BACK else 0.0)) for f in folds if f.kind == TRENCH]
    return body.difference(shapely.union_all(trenches)) if trenches else body


def _longest(body, flat: np.ndarray, axis: np.ndarray) -> np.ndarray | None:
    """Ends (2, 2) of a long line in a direction (2,) that passes not far from the middle."""
    import shapely

    if body.is_empty:
        return None
    across = np.array([-axis[1], axis[0]])
    middle = np.array(body.centroid.coords[0])
    along, aside = (flat - middle) @ axis, (flat - middle) @ across
    reach, width = np.abs(along).max() + 1.0, np.ptp(aside)
    best, worth = None, SHORTEST
    for share in OFFSETS:
        start = middle + share * width * across
        line = shapely.LineString([start - reach * axis, start + reach * axis])
        for part in shapely.get_parts(line.intersection(body)):
            if part.length * (1 - ASIDE * abs(share)) > worth:
                best, worth = np.array(part.coords), part.length * (1 - ASIDE * abs(share))
    return best


def _gauge(region: Region, layer: Layer, flat: np.ndarray, line: np.ndarray, stock: Stock,
           side: str) -> Gauge | None:
    """The curve of the inner face along a line, or about its middle as far as a card reaches;
    None where it hardly rises."""
    while (profile := _profile(region, layer, flat, line, stock, side)) is None:
        line = line.mean(axis=0) + LESS * (line - line.mean(axis=0))
        if np.linalg.norm(line[1] - line[0]) < SHORTEST:
            return None
    return None if np.ptp(profile[:, 1]) < FLAT else Gauge(line, profile)


def _profile(region: Region, layer: Layer, flat: np.ndarray, line: np.ndarray, stock: Stock,
             side: str) -> np.ndarray | None:
    """The curve of the inner face along a line; None where it goes past its own ends."""
    length = float(np.linalg.norm(line[1] - line[0]))
    share = np.linspace(0.0, 1.0, max(3, int(np.ceil(length / STEP)) + 1))
    points = line[0] + share[:, None] * (line[1] - line[0])
    inner, normal = _inner_face(region, layer, flat, points, stock, side)
    chord = inner[-1] - inner[0]
    x = chord / max(np.linalg.norm(chord), 1e-12)
    out = normal.mean(axis=0)
    y = out - (out @ x) * x
    y /= max(np.linalg.norm(y), 1e-12)
    profile = np.stack([(inner - inner[0]) @ x, (inner - inner[0]) @ y], axis=1)
    return profile if (np.diff(profile[:, 0]) > 0).all() else None


def _inner_face(region: Region, layer: Layer, flat: np.ndarray, points: np.ndarray,
                stock: Stock, side: str) -> tuple[np.ndarray, np.ndarray]:
    """Where the inner face (k, 3) lies at points (k, 2) of the flat, and unit normals (k, 3).

    Between the corners of a facet a smooth surface rises by half of what the corners' tangent
    planes do, in the mean of their weights: exact for an arc, to second order.
    """
    face, weight = locate(flat, region.faces, points)
    leaf = region.leaf[face]
    normals, solid = layer.normals[leaf], smooth_points(region, layer)[leaf]
    normal = np.einsum("ki,kij->kj", weight, normals)
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    at = np.einsum("ki,kij->kj", weight, solid)
    off = np.einsum("kij,kij->ki", at[:, None] - solid, normals)
    rise = np.einsum("ki,kij->kj", weight * off, normals) / 2
    return at - rise - stock.depths(side)[1] * normal, normal
