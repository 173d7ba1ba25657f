"""Small suits made by hand: meshes cut along marked edges, pieces laid flat by projection."""

from collections import defaultdict
from dataclasses import replace

import numpy as np
import pytest

from addon.core import mesh, seams
from addon.core.model import (
    BACK,
    FRONT,
    SEAM,
    Mate,
    Pattern,
    Piece,
    PieceEdge,
    Sculpt,
    SculptObject,
    Settings,
    Verdict,
)
from addon.core.order import plan
from addon.core.stock import Stock

EVA = Stock("EVA 10 mm", 10.0)
FLAT = Verdict("flat", 0.1, 0.05, (1.0, 1.0), np.inf, 0, "It lies flat.")


def grid(corner, u, v, n=4):
    """Vertices and triangles of a flat patch, n × n cells, normal u × v."""
    corner, u, v = (np.asarray(x, float) for x in (corner, u, v))
    i, j = np.meshgrid(np.arange(n + 1), np.arange(n + 1), indexing="ij")
    points = corner + i.reshape(-1, 1) / n * u + j.reshape(-1, 1) / n * v
    a = (np.arange(n)[:, None] * (n + 1) + np.arange(n)).ravel()
    faces = np.concatenate([np.stack([a, a + n + 1, a + n + 2], 1),
                            np.stack([a, a + n + 2, a + 1], 1)])
    return points, faces


def welded(patches):
    """Patches as one mesh, equal points once, and the patch of each face."""
    points = np.concatenate([p for p, _ in patches])
    shifts = np.cumsum([0] + [len(p) for p, _ in patches[:-1]])
    faces = np.concatenate([f + s for (_, f), s in zip(patches, shifts, strict=True)])
    label = np.repeat(np.arange(len(patches)), [len(f) for _, f in patches])
    _, first, back = np.unique(np.round(points, 4), axis=0, return_index=True, return_inverse=True)
    return points[first], back.reshape(-1)[faces], label


def box_patches(w=200.0, d=100.0, h=80.0, at=(0.0, 0.0, 0.0), n=3):
    """Bottom, front, right, back, left, top of a box, outwards."""
    x, y, z = np.diag([w, d, h])
    o = np.asarray(at, float)
    return [grid(o, y, x, n), grid(o, x, z, n), grid(o + x, y, z, n),
            grid(o + x + y, -x, z, n), grid(o + y, -y, z, n), grid(o + z, x, y, n)]


def mirror(patches):
    return [(p * (-1, 1, 1), f[:, ::-1]) for p, f in patches]


def ring_patches(count, radius=60.0, height=120.0, n=3, at=(0.0, 0.0, 0.0)):
    """An open tube of flat staves."""
    turn = np.arange(count + 1) * 2 * np.pi / count
    base = radius * np.stack([np.cos(turn), np.sin(turn), 0 * turn], 1) + np.asarray(at, float)
    base[-1] = base[0]
    return [grid(a, b - a, (0, 0, height), n) for a, b in zip(base, base[1:], strict=False)]


def suit(objects, templates=None, settings=None, extra_seams=()):
    """A Pattern of objects {name: patches}; each patch is a piece unless joined.

    templates: {piece code: (template, flipped)}. Patches that share an edge are
    mates; extra_seams: pairs of points, further seams inside patches.
    """
    points, faces, owner, label = [], [], [], []
    for k, patches in enumerate(objects.values()):
        p, f, own = welded(patches)
        shift, most = sum(map(len, points)), max([-1, *[int(x.max()) for x in label]]) + 1
        points.append(p), faces.append(f + shift), label.append(own + most)
        owner.append(np.full(len(f), k))
    points, faces, owner, label = map(np.concatenate, (points, faces, owner, label))
    pairs, beside = mesh.edge_faces(faces)
    marked = pairs[label[beside[:, 0]] != label[beside[:, 1]]]
    for a, b in extra_seams:
        ends = [int(np.argmin(np.linalg.norm(points - q, axis=1))) for q in (a, b)]
        along = np.asarray(b, float) - a
        on = [i for i in range(len(points)) if np.allclose(
            np.cross(points[i] - a, along), 0, atol=1e-3)
            and -1e-6 <= (points[i] - a) @ along / (along @ along) <= 1 + 1e-6]
        on.sort(key=lambda i: (points[i] - a) @ along)
        assert {on[0], on[-1]} == set(ends)
        marked = np.concatenate([marked, np.sort(np.stack([on[:-1], on[1:]], 1), 1)])
    sculpt = Sculpt(points, faces, np.sort(marked, 1), np.full(len(marked), SEAM), owner,
                    tuple(SculptObject(n) for n in objects), np.arange(len(faces)))
    return pattern_of(sculpt, settings or Settings(EVA), templates or {})


def pattern_of(sculpt, settings, templates):
    cut = seams.cut(sculpt)
    normals, _ = mesh.face_normals(sculpt.vertices, sculpt.faces)
    around = defaultdict(list)
    for f, face in enumerate(sculpt.faces.tolist()):
        for a, b in zip(face, face[1:] + face[:1], strict=True):
            around[frozenset((a, b))].append(f)

    def fold(a, b):
        f = around[frozenset((a, b))]
        if len(f) < 2:
            return 0.0
        size = np.arccos(np.clip(normals[f[0]] @ normals[f[1]], -1, 1))
        apex = next(v for v in sculpt.faces[f[1]] if v not in (a, b))
        out = normals[f[0]] @ (sculpt.vertices[apex] - sculpt.vertices[a])
        return -size if out > 1e-9 else size

    made = [f"P{i + 1}" for i in range(len(cut.regions))]
    letters = {s: chr(65 + s % 26) + "'" * (s // 26) for s in range(len(cut.seams))}
    pieces, folds = [], {}
    for code, region in zip(made, cut.regions, strict=True):
        normal = normals[region.source_face].mean(0)
        across = np.cross((0.0, 0.0, 1.0) if abs(normal[2]) < 0.9 else (0.0, 1.0, 0.0), normal)
        across /= np.linalg.norm(across)
        flat = region.vertices @ np.stack([across, np.cross(normal, across)], 1)
        edges = []
        for border in region.borders:
            line, source = flat[border.vertices], region.source_vertex[border.vertices]
            bend = np.array([fold(a, b) for a, b in zip(source, source[1:], strict=False)])
            bend = np.append(bend, bend[-1]) if border.seam >= 0 else np.zeros(len(line))
            if border.seam >= 0:
                folds[border.seam] = bend
            arc = mesh.arc_length(line)
            share = arc / arc[-1]
            edges.append(PieceEdge(
                line, line, share if border.forward else 1 - share, bend / 2,
                f"M{border.seam}" if border.seam >= 0 else "",
                letters.get(border.seam, ""), float(arc[-1]),
                "" if abs(bend).max() < 0.01 else FRONT if bend.mean() > 0 else BACK))
        rings = tuple(np.concatenate([flat[region.borders[b].vertices[:-1]] for b in loop])
                      for loop in region.loops)
        same, flipped = templates.get(code, (code, False))
        family = [templates.get(c, (c, False)) for c in made]
        count = [sum(t == code and f == turned for t, f in family) for turned in (False, True)]
        pieces.append(Piece(
            code=code, name="", object=sculpt.objects[region.object].name, stock=settings.stock,
            side="outer", verdict=FLAT, vertices=region.vertices, faces=region.faces,
            source_vertex=region.source_vertex, source_face=region.source_face, flat=flat,
            stretch=np.ones((len(region.faces), 2)), front=rings, back=rings, cut=rings,
            edges=tuple(edges), template=same, flipped=flipped, copies=count[0],
            mirrored=count[1], area=float(mesh.face_normals(region.vertices,
                                                            region.faces)[1].sum())))
    mates = []
    for s, seam in enumerate(cut.seams):
        ends = tuple((made[r], b) for r, b in seam.sides)
        sizes = [pieces[r].edges[b].length for r, b in seam.sides]
        mates.append(Mate(f"M{s}", letters[s], ends, sizes, abs(sizes[0] - sizes[1]),
                          (folds[s].min(), folds[s].max()), sculpt.vertices[seam.vertices]))
    pattern = Pattern(settings, sculpt, tuple(pieces), tuple(mates))
    return replace(pattern, steps=plan(pattern.pieces, pattern.mates, settings, sculpt))


@pytest.fixture(scope="session")
def box():
    """A closed box of six pieces."""
    return suit({"Box": box_patches()})


@pytest.fixture(scope="session")
def pair():
    """Two open boxes, mirror images of each other, each an object, and a plate alone."""
    right = box_patches(at=(60.0, 0.0, 0.0))[:-1]
    left = mirror(right)
    turned = {f"P{i + 6}": (f"P{i + 1}", True) for i in range(5)}
    return suit({"Right": right, "Left": left, "Plate": [grid((-40, 0, 120), (80, 0, 0),
                                                              (0, 0, 60))]}, turned)
