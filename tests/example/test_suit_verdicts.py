"""Every piece of the example suit that is said to be formable is, by a check of its flat alone."""

import numpy as np
import pytest

from addon.core import laid, layer, mesh, seams, skin, trace
from tests import forming

SPARED = 0.01  # of a piece may lie outside its band, but no more than t x t in one place


@pytest.fixture(scope="module")
def rest_lengths(pattern):
    """Per piece the lengths of its layer, cut from the sculpt anew."""
    settings = pattern.settings
    resting = laid.rest(skin.outer_skin(pattern.sculpt), settings, trace.Surface).sculpt
    cut = seams.cut(resting, settings.fairing)
    found = layer.layers(cut, [p.stock for p in pattern.pieces], [p.side for p in pattern.pieces],
                         settings.web)
    for piece, region in zip(pattern.pieces, cut.regions, strict=True):
        assert np.array_equal(piece.source_face, region.source_face)
        assert np.array_equal(piece.faces, region.faces)
    return [each.lengths for each in found]


def test_the_stretch_of_a_piece_is_that_of_its_flat(pattern, rest_lengths):
    for piece, lengths in zip(pattern.pieces, rest_lengths, strict=True):
        found = forming.singular_values(piece.flat, piece.faces, lengths)
        assert np.allclose(piece.stretch, found, atol=1e-6), piece.code


def test_what_is_said_to_be_formable_lies_inside_its_band_triangle_by_triangle(
        pattern, rest_lengths):
    seen = set()
    for piece, lengths in zip(pattern.pieces, rest_lengths, strict=True):
        verdict, stock = piece.verdict, piece.stock
        if verdict.kind == "relief":
            continue
        seen.add(verdict.kind)
        limits = stock.heated if verdict.kind == "heat" else stock.cold
        sigma = forming.singular_values(piece.flat, piece.faces, lengths)
        assert (sigma[:, 1] > 0).all(), piece.code
        asked = forming.utilisation(sigma, limits)
        _, area = mesh.face_normals(piece.vertices, piece.faces)
        assert forming.largest_allowing_spots(
            asked, area, piece.faces, SPARED * area.sum(), stock.thickness**2) <= 1, piece.code
        assert verdict.largest == pytest.approx(
            forming.utilisation(sigma, stock.heated).max(), abs=1e-4), piece.code
    assert {"heat", "bend"} <= seen
