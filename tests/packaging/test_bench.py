"""The benchmark still runs and its tables hold what they promise; no time is judged here."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from tests import shapes

RUN = """
import sys
from pathlib import Path
sys.path.insert(0, "scripts")
import bench
for name in bench.SECTIONS:
    bench.measure(name, True, Path(sys.argv[1]) / (name + ".json"))
"""


@pytest.fixture
def bench(root, monkeypatch):
    monkeypatch.syspath_prepend(str(root / "scripts"))
    import bench

    return bench


@pytest.fixture
def flatteners(root, monkeypatch):
    monkeypatch.syspath_prepend(str(root / "scripts"))
    import bench_flatteners

    return bench_flatteners


def test_every_section_gives_a_whole_table_of_finite_figures(bench, run_in_blender, tmp_path):
    done = run_in_blender(RUN, tmp_path)
    assert done.returncode == 0, done.stderr
    for name in bench.SECTIONS:
        section = json.loads((tmp_path / f"{name}.json").read_text("utf-8"))
        header, rows = section["header"], section["rows"]
        assert len(rows) > 1 and all(len(row) == len(header) for row in rows)
        skipped = [row for row in rows if None in row]
        assert all("not installed" in row[2] for row in skipped)
        figures = [value for row in rows for value in row if isinstance(value, (int, float))]
        assert figures and all(math.isfinite(value) for value in figures)
        lines = bench.markdown(name, section, True).splitlines()
        assert sum(line.startswith("|") for line in lines) == len(rows) + 2
    rivals = json.loads((tmp_path / "rivals.json").read_text("utf-8"))["rows"]
    measured = [row for row in rivals if None not in row]
    assert any("Blender" in row[1] for row in measured)  # it is there, since the test runs in it
    assert all(row[2] > 0 and row[4] <= row[5] for row in measured)


def test_a_block_replaces_the_one_of_its_section_and_leaves_the_rest(bench):
    text = bench.placed(bench.placed("# Head\n", "caps", "old\n| 1 |"), "bands", "kept")
    new = bench.placed(text, "caps", r"new \1")
    assert r"new \1" in new and "kept" in new and "old" not in new
    assert new.startswith("# Head\n") and bench.placed(new, "caps", r"new \1") == new


@pytest.mark.parametrize(("value", "text"), [
    (0.31249, "0.312"), (12.345, "12.3"), (1234.5, "1234"), (0.00001, "0.0000"), (0.0, "0"),
    (20_000, "20,000"), (None, "–"), ("word", "word")])
def test_figures_are_short(bench, value, text):
    assert bench.cell(value) == text


def test_the_machine_is_described_without_its_name(bench):
    import platform

    said = bench.machine()
    assert "cores" in said and "numpy" in said
    assert "/" not in said and "\\" not in said
    assert platform.node() not in said.split()


def test_the_measure_knows_the_stretch_of_a_map_given_by_hand(flatteners):
    """A flat square drawn 1/1.1 as wide and 1/0.95 as high is formed by 1.1 and 0.95."""
    vertices, faces = shapes.surface(lambda x, y: (x, y, 0 * x), [0.0, 30.0, 70.0], [0.0, 50.0])
    points = vertices[:, :2] / (1.1, 0.95)
    turn = np.array([[0.6, 0.8], [-0.8, 0.6]])
    sigma = flatteners.stretch(vertices, faces, points @ turn)
    assert sigma == pytest.approx(np.tile((1.1, 0.95), (len(faces), 1)))
    turned_over = flatteners.stretch(vertices, faces, points * (-1.0, 1.0))
    assert (turned_over[:, 1] < 0).all()


@pytest.mark.parametrize("scale", [0.9, 1.0, 1.1])
def test_strain_is_that_of_the_best_scale(flatteners, scale):
    """u = (r - 1) / (s + c r): the band [1 - c u, 1 + s u] just holds the ratio r, whatever the
    size of the drawing (derived)."""
    sigma = scale * np.array([(1.08, 0.97), (1.02, 0.99), (1.0, 1.0)])
    r = 1.08 / 0.97
    expected = (r - 1) / (0.10 + 0.05 * r)
    assert flatteners.worst(sigma, np.ones(3), 0.0) == pytest.approx(expected, rel=1e-3)
