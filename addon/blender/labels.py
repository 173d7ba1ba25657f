"""Codes of pieces and letters of mates, written on the sculpt where there is room for them."""

from __future__ import annotations

import math

import blf
import bpy
import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader
from mathutils import Matrix

from . import colours
from .draw_data import MATE, PIECE, Drawn, Label

_FONT = 0
_SIZE = {PIECE: 13.0, MATE: 11.0}  # points
_ROOM = {PIECE: 14.0, MATE: 26.0}  # points of room below which a word is left out
_GRAZING = 0.35  # cosine to the eye below which a place is seen too flatly
# In front of its place by so many half widths, lest a bulge of the piece itself hide a label.
_BEFORE = 1.5
_ROUND = np.linspace(-math.pi / 2, math.pi / 2, 8)  # corners of a round end
_END = np.stack([np.cos(_ROUND), np.sin(_ROUND)], axis=1)


def draw(context: bpy.types.Context, items: list[tuple[bpy.types.Object, Drawn, Matrix]],
         view: Matrix, projection: Matrix, scale: float) -> None:
    """The labels, each hidden where something stands before its place."""
    width, height = gpu.state.viewport_get()[2:]
    lens = np.array(projection)
    found: list[tuple[Label, np.ndarray]] = []
    for _, drawn, moved in items:
        found += places(drawn.labels, np.array(view @ moved), lens, width, height, scale)
    found.sort(key=lambda pair: pair[0].kind == MATE)  # else the largest pieces first, as they come
    utilised = context.scene.foamwright.overlay_shows == "UTILISATION"
    corners, tints, words, taken = [], [], [], []
    for label, (x, y, z, pixel) in found:
        text = _text(label, utilised)
        blf.size(_FONT, _SIZE[label.kind] * scale)
        wide, high = blf.dimensions(_FONT, text)[0], blf.dimensions(_FONT, "X")[1]
        half_h = high / 2 + 4 * scale
        half_w = max(wide / 2 + 5 * scale, half_h)
        if any(abs(x - a) < half_w + c and abs(y - b) < half_h + d for a, b, c, d in taken):
            continue
        taken.append((x, y, half_w, half_h))
        near = lens[2:] @ (0.0, 0.0, z + _BEFORE * half_w * pixel, 1.0)
        depth = float(near[0] / near[1])
        ink, paper = colours.INK, colours.PAPER
        if label.kind == MATE:
            ink, paper = paper, ink
        corners.append(_pill(x, y, depth, half_w, half_h))
        tints.append((*paper, 0.92))
        words.append((text, label.kind, ink, round(x - wide / 2), round(y - high / 2), depth))
    if not words:
        return
    gpu.matrix.load_projection_matrix(Matrix((
        (2 / width, 0, 0, -1), (0, 2 / height, 0, -1), (0, 0, 1, 0), (0, 0, 0, 1))))
    gpu.matrix.load_matrix(Matrix())
    shader = gpu.shader.from_builtin("SMOOTH_COLOR")
    pills = np.concatenate(corners).astype(np.float32)
    batch_for_shader(shader, "TRIS", {
        "pos": pills, "color": np.repeat(np.array(tints, np.float32), len(corners[0]), axis=0),
    }).draw(shader)
    for text, kind, ink, x, y, depth in words:
        gpu.matrix.load_matrix(Matrix.Translation((x, y, depth)))
        blf.size(_FONT, _SIZE[kind] * scale)
        blf.position(_FONT, 0, 0, 0)
        blf.color(_FONT, *ink, 1.0)
        blf.draw(_FONT, text)


def places(labels: tuple[Label, ...], view: np.ndarray, projection: np.ndarray, width: float,
           height: float, scale: float) -> list[tuple[Label, np.ndarray]]:
    """The labels that have a place to be read at, each with its best seen one: x and y on the
    screen, z before the eye, and the size of a pixel there."""
    if not labels:
        return []
    count = np.array([len(label.points) for label in labels])
    of = np.repeat(np.arange(len(labels)), count)
    seen = np.concatenate([label.points for label in labels]) @ view[:3, :3].T + view[:3, 3]
    clip = np.column_stack([seen, np.ones(len(seen))]) @ projection.T
    before = clip[:, 3] > 1e-9
    w = np.where(before, clip[:, 3], 1.0)
    x, y = clip[:, 0] / w, clip[:, 1] / w
    towards = -seen if projection[3, 3] == 0 else np.tile([0.0, 0.0, 1.0], (len(seen), 1))
    normal = np.concatenate([label.normals for label in labels]) @ view[:3, :3].T
    facing = np.einsum("ij,ij->i", normal, towards) / np.maximum(
        np.linalg.norm(normal, axis=1) * np.linalg.norm(towards, axis=1), 1e-12)
    pixel = w / (projection[1, 1] * height / 2)
    room = np.concatenate([label.room for label in labels]) / pixel
    needed = scale * np.array([_ROOM[label.kind] for label in labels])[of]
    fit = before & (np.abs(x) < 1) & (np.abs(y) < 1) & (facing > _GRAZING) & (room > needed)
    score = np.where(fit, facing * room, 0.0)
    found = []
    for label, start, stop in zip(labels, np.cumsum(count) - count, np.cumsum(count), strict=True):
        best = start + int(np.argmax(score[start:stop]))
        if score[best] > 0:
            found.append((label, np.array([(x[best] + 1) * width / 2, (y[best] + 1) * height / 2,
                                           seen[best, 2], pixel[best]])))
    return found


def _text(label: Label, utilised: bool) -> str:
    if utilised and label.kind == PIECE and math.isfinite(label.utilisation):
        return f"{label.text}  {label.utilisation:.2f}"
    return label.text


def _pill(x: float, y: float, depth: float, half_w: float, half_h: float) -> np.ndarray:
    """Triangles (3 k, 3) of a rectangle with round ends."""
    end = half_h * _END + (half_w - half_h, 0.0)
    rim = np.concatenate([end, -end])
    fan = np.stack([np.zeros_like(rim), rim, np.roll(rim, -1, axis=0)], axis=1).reshape(-1, 2)
    return np.column_stack([fan + (x, y), np.full(len(fan), depth)])
