"""report.json: valid against its schema, faithful to the pattern, and able to fail."""

import copy
import json
import math
from dataclasses import replace

import numpy as np
import pytest

from addon.core.make import check, make_pattern
from addon.core.model import Settings
from addon.core.stock import Stock
from addon.export.report import SCHEMA, report
from tests import shapes

jsonschema = pytest.importorskip("jsonschema")


@pytest.fixture(scope="module")
def pattern():
    shape = shapes.cap(120, np.radians(55), 12)
    return make_pattern(shapes.sculpt(shape, shapes.spokes(*shape, number=3)),
                        Settings(Stock("foam", 10.0), nest_seconds=0.2))


@pytest.fixture(scope="module")
def validate():
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema).validate


def test_a_pattern_is_valid_and_survives_json(pattern, validate):
    document = json.loads(json.dumps(report(pattern), allow_nan=False))
    validate(document)
    assert document == report(pattern)
    assert document["sheets"] and document["steps"]


def test_a_check_leaves_out_sheets_steps_and_changes_and_nothing_else(pattern, validate):
    whole, part = report(pattern), report(pattern, check=True)
    validate(part)
    assert set(whole) - set(part) == {"sheets", "needs", "steps", "changes", "existing"}
    assert all(whole[key] == part[key] for key in part)


def test_flat_pieces_have_no_radius(validate):
    flat = check(shapes.sculpt(shapes.platonic("cube", 80)),
                 Settings(Stock("foam", 10.0), seam_angle=1.0))
    document = report(flat, check=True)
    validate(document)
    assert {p["radius"] for p in document["pieces"]} == {None}


def test_a_flat_that_turns_over_on_itself_has_no_utilisation(pattern, validate):
    sigma = np.array([[1.2, -0.1]])
    limits = pattern.settings.stock.heated
    verdict = replace(pattern.pieces[0].verdict, kind="relief", stretch=(-0.1, 1.2),
                      cold=np.inf, heated=float(limits.utilisation(sigma)[0]))
    document = report(replace(pattern, pieces=(
        replace(pattern.pieces[0], verdict=verdict), *pattern.pieces[1:])))
    validate(json.loads(json.dumps(document, allow_nan=False)))
    assert document["pieces"][0]["utilisation"] == {"cold": None, "heated": None}
    assert document["pieces"][0]["stretch"] == {"min": -0.1, "max": 1.2}


def test_numbers_are_those_of_the_pattern(pattern):
    document = report(pattern)
    for piece, told in zip(pattern.pieces, document["pieces"], strict=True):
        assert told["code"] == piece.code
        assert np.allclose(told["outline"], piece.front[0], atol=1e-4)
        assert told["area"] == pytest.approx(piece.area, abs=1e-4)
        x, y = np.array(told["cut"][0]).T
        shoelace = (x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2
        assert shoelace == pytest.approx(told["area"], rel=1e-6)
        for edge, line in zip(piece.edges, told["edges"], strict=True):
            assert line["bevel"]["max"] == pytest.approx(math.degrees(edge.bevel.max()), abs=1e-4)
    for mate in document["mates"]:
        a, b = (edge["length"] for edge in mate["edges"])
        assert mate["gap"] == pytest.approx(abs(a - b), abs=3e-4)
        for edge in mate["edges"]:
            piece = next(p for p in document["pieces"] if p["code"] == edge["piece"])
            assert piece["edges"][edge["edge"]]["mate"] == mate["code"]


def test_every_piece_is_cut_once_from_some_template(pattern):
    pieces = report(pattern)["pieces"]
    assert sum(p["copies"] + p["mirrored"] for p in pieces) == len(pieces)


@pytest.mark.parametrize("damage", [
    lambda d: d.update(version=2),
    lambda d: d.update(surprise=1),
    lambda d: d["pieces"][0].update(verdict="perhaps"),
    lambda d: d["pieces"][0].update(copies=-1),
    lambda d: d["pieces"][0].pop("stretch"),
    lambda d: d["pieces"][0]["outline"].__setitem__(0, [1.0]),
    lambda d: d["mates"][0].update(gap=-0.5),
    lambda d: d["sheets"][0].update(kind="cloth"),
    lambda d: d["steps"][0].update(number=0),
    lambda d: d["pieces"][0]["bends"].append({"angle": 3.0, "points": [[0.0, 0.0]]}),
    lambda d: d["changes"].append({"code": "A1", "name": "", "kind": "perhaps", "why": []}),
    lambda d: d.update(printed={"codes": []}),
])
def test_a_damaged_report_is_not_valid(pattern, validate, damage):
    document = copy.deepcopy(report(pattern))
    damage(document)
    with pytest.raises(jsonschema.ValidationError):
        validate(document)


def test_a_rebuild_is_told_in_mm_and_degrees(tried_walls, validate):
    document = report(tried_walls, check=True)
    validate(document)
    told, found = document["rebuild"], tried_walls.rebuilt
    assert told["max"] == pytest.approx(max(p["max"] for p in told["pieces"]))
    assert [m["code"] for m in told["mates"]] == [m.code for m in tried_walls.mates]
    assert [m["fold"] for m in told["mates"]] == pytest.approx(
        [math.degrees(m.fold) for m in found.mates], abs=1e-4)
    assert told["without_strain_map"]["rms"] > 0.0 and len(told["trenches"]) == 2
    assert {code for part in told["open_parts"] for code in part} == {
        p["code"] for p in document["pieces"]}
    tapes = {tape["name"]: tape for tape in document["tapes"]}
    assert tapes["T1"]["length"] == pytest.approx(tried_walls.tapes[0].length, abs=1e-4)
    for tape in tapes.values():
        assert all(0 <= end["share"] <= 1 for end in tape["ends"])


def test_without_a_rebuild_nothing_is_told_of_one(pattern):
    assert "rebuild" not in report(pattern)
