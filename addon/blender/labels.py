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


def draw(context: bpy.types.Context, items: list[tuple[bpy.types.Object, Drawn, Matrix]],
         view: Matrix, projection: Matrix, scale: float) -> None:
    """The labels, each hidden where something stands before its place."""
    utilised = context.scene.foamwright.overlay_shows == "UTILISATION"
    width, height = gpu.state.viewport_get()[2:]
    taken: list[tuple[float, float, float, float]] = []
    flat = np.array(projection)
    places = [(label, *place) for _, drawn, moved in items for label in drawn.labels
              if (place := _place(label, np.array(view @ moved), flat, width, height, scale))]
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    for label, x, y, z, pixel in sorted(places, key=lambda p: p[0].kind == MATE):
        text = label.text
        if utilised and label.kind == PIECE and math.isfinite(label.utilisation):
            text = f"{text}  {label.utilisation:.2f}"
        blf.size(_FONT, _SIZE[label.kind] * scale)
        wide, _ = blf.dimensions(_FONT, text)
        _, high = blf.dimensions(_FONT, "X")
        half_h = high / 2 + 4 * scale
        half_w = max(wide / 2 + 5 * scale, half_h)
        box = x - half_w, y - half_h, x + half_w, y + half_h
        if any(a < box[2] and c > box[0] and b < box[3] and d > box[1] for a, b, c, d in taken):
            continue
        taken.append(box)
        # In front of its place by most of its width, lest a bulge of the piece itself hide it.
        near = flat[2:] @ (0.0, 0.0, z + 1.5 * half_w * pixel, 1.0)
        depth = float(near[0] / near[1])
        gpu.matrix.load_projection_matrix(Matrix((
            (2 / width, 0, 0, -1), (0, 2 / height, 0, -1), (0, 0, 1, 0), (0, 0, 0, 1))))
        gpu.matrix.load_matrix(Matrix.Translation((x, y, depth)))
        ink, paper = colours.INK, colours.PAPER
        if label.kind == MATE:
            ink, paper = paper, ink
        shader.bind()
        shader.uniform_float("color", (*paper, 0.92))
        _pill(shader, half_w, half_h).draw(shader)
        gpu.matrix.load_matrix(Matrix.Translation(
            (round(x - wide / 2), round(y - high / 2), depth)))
        blf.position(_FONT, 0, 0, 0)
        blf.color(_FONT, *ink, 1.0)
        blf.draw(_FONT, text)


def _place(label: Label, view: np.ndarray, projection: np.ndarray, width: float, height: float,
           scale: float) -> tuple[float, float, float, float] | None:
    """The label's best seen place: x and y on the screen, z before the eye, and the size of a
    pixel there. None where it has no such place."""
    seen = label.points @ view[:3, :3].T + view[:3, 3]
    clip = np.column_stack([seen, np.ones(len(seen))]) @ projection.T
    behind = clip[:, 3] <= 1e-9
    w = np.where(behind, 1.0, clip[:, 3])
    x, y = (clip[:, :2] / w[:, None]).T
    towards = -seen if projection[3, 3] == 0 else np.tile([0.0, 0.0, 1.0], (len(seen), 1))
    normal = label.normals @ view[:3, :3].T
    facing = np.einsum("ij,ij->i", normal, towards) / np.maximum(
        np.linalg.norm(normal, axis=1) * np.linalg.norm(towards, axis=1), 1e-12)
    pixel = w / (projection[1, 1] * height / 2)
    room = label.room / pixel
    fit = (~behind & (np.abs(x) < 1) & (np.abs(y) < 1) & (facing > _GRAZING)
           & (room > _ROOM[label.kind] * scale))
    if not fit.any():
        return None
    best = int(np.argmax(np.where(fit, facing * room, -1.0)))
    return ((x[best] + 1) * width / 2, (y[best] + 1) * height / 2, float(seen[best, 2]),
            float(pixel[best]))


def _pill(shader, half_w: float, half_h: float, steps: int = 8):
    """A rectangle with round ends about the origin, as triangles."""
    angle = np.linspace(-math.pi / 2, math.pi / 2, steps)
    end = np.stack([half_w - half_h + half_h * np.cos(angle), half_h * np.sin(angle)], axis=1)
    rim = np.concatenate([end, -end])
    points = np.column_stack([np.concatenate([[(0.0, 0.0)], rim]), np.zeros(len(rim) + 1)])
    n = len(rim)
    fan = [(0, 1 + i, 1 + (i + 1) % n) for i in range(n)]
    return batch_for_shader(shader, "TRIS", {"pos": points.astype(np.float32)}, indices=fan)
