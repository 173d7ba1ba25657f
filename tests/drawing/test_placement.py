"""Pieces that are glued on the face of others, read back from the files that the maker gets."""

from __future__ import annotations

import io
import json
import re
import xml.etree.ElementTree as ET

import ezdxf
import jsonschema
import numpy as np
import pytest

from addon.core.make import make_pattern
from addon.core.model import Settings
from addon.core.order.stages import stages
from addon.export import report
from addon.export.dxf import dxf
from addon.export.placement import words
from addon.export.plan.steps import drawn
from addon.export.shopping import shopping
from addon.export.svg import svg
from tests.core.test_laid import EVA2, EVA6, EVA10, flat_plate, plate, solid_block, strip, together

ALLOWANCE = np.pi / 2 * (100 + 0.5 * 2)  # bend allowance, angle (inside radius + k t)


@pytest.fixture(scope="module")
def pattern():
    return make_pattern(together(("Plate", plate(), {}), ("Strip", strip(100.0), {"stock": EVA2})),
                        Settings(EVA10))


@pytest.fixture(scope="module")
def emblem():
    return make_pattern(together(("Plate", flat_plate(), {}),
                                 ("Emblem", solid_block(6.0), {"stock": EVA6})), Settings(EVA10))


def longest(points: np.ndarray) -> float:
    """Along the main direction of points."""
    centred = points - points.mean(axis=0)
    return float(np.ptp(centred @ np.linalg.svd(centred)[2].T, axis=0).max())


def test_strip_in_the_dxf_of_its_mat_is_as_long_as_the_bend_allowance(pattern):
    (mat,) = [m for m in pattern.mats if m.stock == EVA2]
    document = ezdxf.read(io.StringIO(dxf(mat, pattern)))
    found = [np.array([p[:2] for p in e.flattening(0.05)]) if e.dxftype() == "SPLINE" else
             np.array([p[:2] for p in e.get_points()])
             for block in [document.modelspace(), *document.blocks]
             for e in block if e.dxf.layer == "1" and e.dxftype() in ("LWPOLYLINE", "SPLINE")]
    assert longest(np.concatenate(found)) == pytest.approx(ALLOWANCE, abs=0.15)


def test_placement_has_a_group_of_its_own_and_a_layer(pattern):
    (mat,) = [m for m in pattern.mats if m.stock == EVA10]
    root = ET.fromstring(svg(mat, pattern))
    groups = [g for g in root.iter() if g.tag.endswith("}g") and "placement" in str(g.attrib)]
    assert groups
    document = ezdxf.read(io.StringIO(dxf(mat, pattern)))
    assert "PLACEMENT" in document.layers
    drawn = [e for block in [document.modelspace(), *document.blocks] for e in block
             if e.dxf.layer == "PLACEMENT"]
    (place,) = pattern.pieces[0].places
    assert len(drawn) == len(place.lines) + len(place.ticks)


def test_plan_says_where_a_strip_goes_and_when(pattern):
    kinds = [step.kind for step in pattern.steps]
    assert kinds.count("lay") == 1
    assert kinds.index("lay") > kinds.index("heat")  # the plate is bent: the strip follows later
    step = pattern.steps[kinds.index("lay")]
    base, detail = pattern.pieces
    assert set(step.pieces) == {base.code, detail.code}
    assert detail.code in step.text[0] and base.code in step.text[0]
    shaped = [s for s in pattern.steps if s.kind == "heat"]
    assert all(detail.code not in s.pieces for s in shaped)  # it bends as it is glued
    (part,) = pattern.parts
    assert set(part.pieces) == {base.code, detail.code}


def test_emblem_on_a_flat_plate_is_flat_work(emblem):
    (step,) = [s for s in emblem.steps if s.kind == "lay"]
    assert "while flat" in step.title


def test_glue_of_both_faces_is_bought(emblem):
    # One block of 30 mm square, cement on both faces: 2 * 900 mm2.
    assert shopping(emblem).glue_area == pytest.approx(1800.0, rel=0.02)


def test_report_tells_bases_and_places(pattern):
    document = json.loads(json.dumps(report.report(pattern)))
    jsonschema.validate(document, json.loads(report.SCHEMA.read_text(encoding="utf-8")))
    base, detail = document["pieces"]
    assert (detail["base"], detail["stock"]) == (base["code"], EVA2.name)
    (laid,) = document["laid"]
    assert laid["kind"] == "laid-on" and laid["on"] == [base["code"]]
    (place,) = base["places"]
    assert place["of"] == [detail["code"]] and place["letter"] == laid["letter"]
    letters = [n["index"] for n in detail["notches"] if n["letter"] == laid["letter"]]
    assert letters == [t["index"] for t in place["ticks"]]
    assert re.fullmatch("[A-Z]+", laid["letter"])


def test_a_detail_is_lit_when_it_is_glued_and_follows_its_base(pattern):
    base, detail = pattern.pieces
    found = stages(pattern.steps, pattern.pieces, pattern.mates)
    (lay,) = [s for s in found if s.step.kind == "lay"]
    assert lay.lit == {detail.code} and lay.after[detail.code] == lay.after[base.code]
    before = found[found.index(lay) - 1]
    assert before.after[detail.code] != before.after[base.code]


def test_a_shared_template_says_which_piece_carries_the_detail():
    two = flat_plate()[0] + (400.0, 0.0, 0.0), flat_plate()[1]
    pattern = make_pattern(together(("Left", flat_plate(), {}), ("Right", two, {}),
                                    ("Emblem", solid_block(6.0), {"stock": EVA6})),
                           Settings(EVA10))
    left, right, emblem = pattern.pieces
    assert right.template == left.code and len(right.places) == 1  # it has the template's lines
    assert next(words(left, np.asarray))[0] == f"place {emblem.code} on {left.code}"
    assert next(words(left, np.asarray))[1] == pytest.approx(
        left.places[0].lines[0].mean(axis=0))


def test_the_picture_of_the_step_shows_the_detail_on_its_base(pattern):
    (lay,) = [s for s in stages(pattern.steps, pattern.pieces, pattern.mates)
              if s.step.kind == "lay"]
    assert set(drawn(pattern, lay).spots) == {p.code for p in pattern.pieces}
