"""Rest lengths -> a flat piece whose stretch stays within what the foam takes.

A map of triangles to the plane is held as one complex number per vertex. On each
triangle its Jacobian is J = p z + q conj(z), whose singular values are |p| + |q|
and |p| - |q|; a negative second one is a flipped face. This makes every step below
plain complex arithmetic.

Least-squares conformal maps (Levy et al. 2002) start the flattening, a few
as-rigid-as-possible steps (Liu et al. 2008) even it out, then the alternating
direction method of multipliers (Boyd et al. 2011) minimises the utilisation u:
the forming map flat -> layer must keep 1 - compress u <= sigma <= 1 + stretch u.
Every step solves with the same factor of the cotangent Laplacian.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from . import mesh
from .errors import ERROR, Finding, FoamError
from .model import Flat, Layer, Region
from .stock import Limits

INTERVAL = 60.0  # mm of a seam whose total length is kept
SEAM_WEIGHT = 4.0  # pull of the seam lengths against the stretch of the faces
SPARED = 0.01  # share of the area that may leave the band
RELAX = 1.7  # over-relaxation of the alternating steps


def flatten(region: Region, layer: Layer, limits: Limits, iterations: int = 240) -> Flat:
    """Flatten a region; seam borders keep their rest length interval by interval.

    Raises FoamError `tighter-than-thickness` where the surface bends so tightly that
    the foam's own layer would turn inside out, `tube` for a region that closes round,
    and `cannot-flatten` when no flattening without flipped faces is found.
    """
    tight = (layer.lengths <= 0).any(axis=1)
    if tight.any():
        raise FoamError(Finding(
            "tighter-than-thickness", ERROR,
            "The surface bends more tightly here than the foam is thick.",
            "Choose a thinner stock, smooth this place, or mark a trench or a seam along the bend.",
            faces=region.source_face[tight]))
    loops = len(region.loops)
    euler = len(region.vertices) - _edge_count(region.faces) + len(region.faces)
    if euler + loops != 2:
        raise FoamError(_cannot(region, "has a handle or a tunnel", "Mark a seam that opens it."))
    system = _System(region.faces, layer.lengths, len(region.vertices), _seams(region, layer))
    start = _start(system, region)
    if start is None and loops > 1:
        raise FoamError(Finding(
            "tube", ERROR, "This piece closes round on itself like a tube.",
            "Mark a seam from one rim to the other to open it.", faces=region.source_face))
    if start is None:
        raise FoamError(_cannot(region, "curves too strongly to be laid flat in one piece",
                                "Mark a seam or a dart into its most curved place."))
    points = _least_utilisation(system, start, limits, iterations)
    upper, lower = system.singular(system.gradient @ points)
    sigma = np.stack([1 / np.maximum(lower, 1e-9), np.where(lower > 0, 1 / upper, 0.0)], axis=1)
    return Flat(np.stack([points.real, points.imag], axis=1), sigma)


def _cannot(region: Region, what: str, remedy: str) -> Finding:
    return Finding("cannot-flatten", ERROR, f"This piece {what}.", remedy,
                   faces=region.source_face)


def _edge_count(faces: np.ndarray) -> int:
    return len(np.unique(mesh.half_edges(faces)[2]))


# --- the linear system -------------------------------------------------------


@dataclass(frozen=True)
class _Seams:
    """Seam edges (k, 2), their rest lengths (k,) and the interval (k,) each lies in."""

    edges: np.ndarray
    lengths: np.ndarray
    interval: np.ndarray


def _seams(region: Region, layer: Layer) -> _Seams:
    edges, lengths, interval, number = [], [], [], 0
    for border in region.borders:
        if border.seam < 0:
            continue
        path = border.vertices
        rest = mesh.along(layer.lengths, border.half)
        parts = max(1, round(rest.sum() / INTERVAL))
        middle = np.cumsum(rest) - rest / 2
        edges.append(np.stack([path[:-1], path[1:]], axis=1))
        lengths.append(rest)
        interval.append(number + np.minimum((middle / rest.sum() * parts).astype(int), parts - 1))
        number += parts
    if not edges:
        return _Seams(np.empty((0, 2), int), np.empty(0), np.empty(0, int))
    _, interval = np.unique(np.concatenate(interval), return_inverse=True)
    return _Seams(np.concatenate(edges), np.concatenate(lengths), interval)


class _System:
    """Gradients, weights and the factored normal matrix of one region."""

    def __init__(self, faces, lengths, count, seams: _Seams):
        import scipy.sparse as sp

        corner = rest_triangles(lengths)
        m = len(faces)
        double = (np.conj(corner[:, 1]) * corner[:, 2]).imag
        opposite = np.roll(corner, -2, axis=1) - np.roll(corner, -1, axis=1)
        hat = 1j * opposite / double[:, None]
        rows, columns = np.repeat(np.arange(m), 3), faces.ravel()
        matrix = lambda values: sp.csr_matrix(  # noqa: E731
            (values.ravel(), (rows, columns)), shape=(m, count))
        self.count, self.faces = count, faces
        self.area = double / 2
        self.weight = self.area / self.area.sum()
        self.gradient = sp.vstack([matrix(np.conj(hat) / 2), matrix(hat / 2)]).tocsr()
        self.adjoint = (self.gradient.conj().T
                        @ sp.diags(np.tile(2 * self.weight, 2))).tocsr()
        self.seams = seams
        k = np.arange(len(seams.edges))
        inverse = 1 / seams.lengths
        self.along = sp.csr_matrix(
            (np.concatenate([-inverse, inverse]), (np.tile(k, 2), seams.edges.T.ravel())),
            shape=(len(k), count))
        mean = seams.lengths.mean() if len(k) else 0.0
        self.seam_weight = seams.lengths * mean / self.area.sum()
        self.along_adjoint = (self.along.T @ sp.diags(2 * SEAM_WEIGHT * self.seam_weight)).tocsr()
        self.normal = (self.adjoint @ self.gradient).real + self.along_adjoint @ self.along
        self._factor = _factor(self.normal)

    def singular(self, jacobian):
        size = np.abs(jacobian)
        m = len(self.faces)
        return size[:m] + size[m:], size[:m] - size[m:]

    def solve(self, target, seam_target=None):
        """The map whose Jacobians (and seam edges) come nearest to the targets."""
        right = self.adjoint @ target
        if len(self.seams.edges) and seam_target is not None:
            right = right + self.along_adjoint @ seam_target
        pair = self._factor(np.ascontiguousarray(right).view(float).reshape(-1, 2))
        return np.ascontiguousarray(pair).view(complex).ravel()


def _factor(matrix):
    """Solver of a symmetric positive semidefinite matrix, its null space held by one vertex."""
    import scipy.sparse as sp
    from scipy.sparse.linalg import splu

    tiny = matrix.diagonal().mean() * 1e-10
    hold = np.full(matrix.shape[0], tiny * 1e-3)
    hold[0] = tiny * 1e3
    return splu((matrix + sp.diags(hold)).tocsc(), permc_spec="MMD_AT_PLUS_A",
                diag_pivot_thresh=0.0, options={"SymmetricMode": True}).solve


def rest_triangles(lengths: np.ndarray) -> np.ndarray:
    """Corners (m, 3) in the complex plane of triangles with the given edge lengths.

    lengths (m, 3) opposite each corner. A triangle whose lengths cannot close is
    given the smallest height that keeps the arithmetic sound.
    """
    a, b, c = lengths.T
    x = (c**2 + b**2 - a**2) / (2 * c)
    floor = 1e-4 * lengths.max(axis=1)
    y = np.sqrt(np.maximum(b**2 - x**2, floor**2))
    return np.stack([np.zeros_like(a) + 0j, c + 0j, x + 1j * y], axis=1)


# --- starts ------------------------------------------------------------------


def _start(system: _System, region: Region):
    """A flattening without flipped faces to start from, or None."""
    for first in (_conformal, _embedded):
        points = first(system, region)
        if points is None or not np.isfinite(points).all():
            continue
        for steps in (8, 0):
            candidate = _as_rigid_as_possible(system, points, steps)
            if (system.singular(system.gradient @ candidate)[1] > 0).all():
                return candidate
    return None


def _scaled(system: _System, points):
    upper, lower = system.singular(system.gradient @ points)
    return points / np.sqrt(max((system.weight * np.abs(upper * lower)).sum(), 1e-300))


def _conformal(system: _System, region: Region):
    import scipy.sparse as sp

    vertices = region.vertices
    m = len(system.faces)
    anti = system.gradient[m:]
    energy = (anti.conj().T @ sp.diags(system.weight) @ anti).tocsc()
    a = int(np.argmax(((vertices - vertices.mean(axis=0)) ** 2).sum(axis=1)))
    b = int(np.argmax(((vertices - vertices[a]) ** 2).sum(axis=1)))
    free = np.setdiff1d(np.arange(system.count), [a, b])
    points = np.zeros(system.count, complex)
    points[b] = np.linalg.norm(vertices[a] - vertices[b])
    if len(free):
        from scipy.sparse.linalg import splu

        right = -(energy[free][:, [b]] @ points[[b]])
        points[free] = splu(energy[free][:, free].tocsc(), permc_spec="MMD_AT_PLUS_A",
                            diag_pivot_thresh=0.0, options={"SymmetricMode": True}).solve(right)
    return _scaled(system, points)


def _embedded(system: _System, region: Region):
    """Tutte's embedding on a circle, holes closed by a fan: never flips (Tutte 1963)."""
    import scipy.sparse as sp
    from scipy.sparse.linalg import spsolve

    loops = [np.concatenate([region.borders[b].vertices[:-1] for b in ring])
             for ring in region.loops]
    faces, count = [region.faces], system.count
    for loop in loops[1:]:
        faces.append(np.stack([np.roll(loop, -1), loop, np.full(len(loop), count)], axis=1))
        count += 1
    start, end, _ = mesh.half_edges(np.concatenate(faces))
    ring = sp.csr_matrix((np.ones(len(start)), (start, end)), shape=(count, count))
    ring = ((ring + ring.T) > 0).astype(float)
    laplace = (sp.diags(np.asarray(ring.sum(axis=1)).ravel()) - ring).tocsr()
    outer = loops[0]
    if len(np.unique(outer)) != len(outer):
        return None  # a loop that passes twice through a vertex fits no circle
    step = np.linalg.norm(region.vertices[np.roll(outer, -1)] - region.vertices[outer], axis=1)
    turn = 2 * np.pi * (np.cumsum(step) - step) / step.sum()
    points = np.zeros(count, complex)
    points[outer] = np.exp(1j * turn)
    free = np.setdiff1d(np.arange(count), outer)
    if len(free):
        points[free] = spsolve(laplace[free][:, free].tocsc(),
                               -(laplace[free][:, outer] @ points[outer]))
    return _scaled(system, points[:system.count])


def _as_rigid_as_possible(system: _System, points, steps: int):
    m = len(system.faces)
    for _ in range(steps):
        jacobian = system.gradient @ points
        target = np.zeros_like(jacobian)
        size = np.abs(jacobian[:m])
        target[:m] = np.where(size > 0, jacobian[:m] / np.maximum(size, 1e-300), 1.0)
        points = system.solve(target, _unit(system.along @ points))
    return points


def _unit(values):
    size = np.abs(values)
    return np.where(size > 0, values / np.maximum(size, 1e-300), 1.0)


# --- least utilisation -------------------------------------------------------


def _least_utilisation(system: _System, points, limits: Limits, iterations: int):
    """Alternate: clip stretch to the band, keep seam lengths, solve, adjust the band."""
    w, m = system.weight, len(system.faces)
    jacobian = system.gradient @ points
    upper, lower = system.singular(jacobian)
    strain = np.sqrt((w * ((upper - 1) ** 2 + (lower - 1) ** 2)).sum() / 2)
    edges = _lengths_met(system, points)
    if strain < 1e-5 and edges < 1e-5:
        return points
    price = 0.15 * max(1.5 * strain, 1e-4)
    push = price * (limits.compress + limits.stretch) / 2
    spare = price / SPARED
    u = 1.5 * strain / limits.compress
    clipped, dual = jacobian.copy(), np.zeros_like(jacobian)
    kept, seam_dual = system.along @ points, np.zeros(len(system.seams.edges), complex)
    best, best_u, last = points, np.inf, np.inf
    for step in range(1, iterations + 1):
        moved = RELAX * jacobian + (1 - RELAX) * clipped + dual
        p, q = np.abs(moved[:m]), np.abs(moved[m:])
        upper, lower = p + q, p - q
        u = _band(upper, lower, w, u, limits, push, spare)
        low, high = 1 / (1 + limits.stretch * u), 1 / (1 - limits.compress * u)
        s1 = np.maximum(np.clip(upper, low, high), upper - spare)
        s2 = np.minimum(np.minimum(np.clip(lower, low, high), lower + spare) , s1)
        clipped = np.concatenate([moved[:m] * ((s1 + s2) / 2 / np.maximum(p, 1e-300)),
                                  moved[m:] * ((s1 - s2) / 2 / np.maximum(q, 1e-300))])
        dual = moved - clipped
        seam = RELAX * (system.along @ points) + (1 - RELAX) * kept + seam_dual
        kept = _keep_lengths(system.seams, seam)
        seam_dual = seam - kept
        points = system.solve(clipped - dual, kept - seam_dual)
        jacobian = system.gradient @ points
        if step % 20 == 0 or step == iterations:
            upper, lower = system.singular(jacobian)
            worst = _spared_utilisation(system, upper, lower, limits)
            worst += 10 * max(_lengths_met(system, points) - 5e-4, 0) / limits.stretch
            if worst < best_u and lower.min() > 0:  # even a spared face may not turn over
                best, best_u = points, worst
            if step >= 60 and abs(worst - last) < 2e-3 * worst and abs(worst - u) < 0.02 * worst:
                break
            last = worst
    return best


def _band(upper, lower, w, u, limits, push, spare):
    """The utilisation at which the faces' excess over the band just costs `push` (Newton)."""
    c, s = limits.compress, limits.stretch
    for _ in range(12):
        u = min(max(u, 0.0), 0.95 / c)
        low, high = 1 / (1 + s * u), 1 / (1 - c * u)
        over, under = upper - high, low - lower
        grow, fall = c * high**2, s * low**2
        excess = (grow * (w @ np.clip(over, 0, spare)) + fall * (w @ np.clip(under, 0, spare)))
        slope = (grow**2 * w[(over > 0) & (over < spare)].sum()
                 + fall**2 * w[(under > 0) & (under < spare)].sum())
        if slope <= 0:
            # Nothing lies outside: tighten the band to just inside the worst face.
            needed = max((1 - 1 / max(upper.max(), 1.0)) / c, (1 / min(lower.min(), 1.0) - 1) / s)
            if not 0 < needed < u:
                return u
            u = 0.99 * needed
            continue
        change = (excess - push) / slope
        u += change
        if abs(change) < 1e-6 * max(u, 1e-6):
            break
    return min(max(u, 0.0), 0.95 / c)


def _keep_lengths(seams: _Seams, edge):
    """Nearest edge vectors (in units of their rest length) whose intervals sum to rest."""
    if not len(edge):
        return edge
    size = np.abs(edge)
    total = np.bincount(seams.interval, seams.lengths)
    short = total - np.bincount(seams.interval, seams.lengths * size)
    return _unit(edge) * np.maximum(size + (short / total)[seams.interval], 0.05)


def _lengths_met(system: _System, points) -> float:
    """Largest relative error of an interval's length."""
    seams = system.seams
    if not len(seams.edges):
        return 0.0
    total = np.bincount(seams.interval, seams.lengths)
    now = np.bincount(seams.interval, seams.lengths * np.abs(system.along @ points))
    return float(np.abs(now / total - 1).max())


def _spared_utilisation(system: _System, upper, lower, limits: Limits) -> float:
    sigma = np.stack([1 / np.maximum(lower, 1e-9), np.where(lower > 0, 1 / upper, 0.0)], axis=1)
    return mesh.largest_but(limits.utilisation(sigma), system.area, SPARED * system.area.sum())

