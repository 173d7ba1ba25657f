"""The calibration sheet from the terminal, and the stock file that measurements make."""

import pdfplumber
import pytest

from addon.command import main
from addon.core.stock import find_stock, read_stock

POINT = 25.4 / 72  # mm


def test_the_sheet_has_a_true_scale_a_true_strip_and_the_steps(tmp_path):
    assert main(["calibration", "--stock", "mat-12", "--out", str(tmp_path / "out")]) == 0
    assert [p.name for p in (tmp_path / "out").iterdir()] == ["foam-calibration.pdf"]
    with pdfplumber.open(tmp_path / "out/foam-calibration.pdf") as pdf:
        assert len(pdf.pages) == 1
        page = pdf.pages[0]
        assert page.width * POINT == pytest.approx(210, abs=0.01)
        words = page.extract_text()
        boxes = [*page.rects, *page.curves]
        lines = sorted({(round(x["x0"] * POINT, 2), round(x["width"] * POINT, 2),
                         round(x["height"] * POINT, 2)) for x in boxes})
        uprights = [x for x in page.lines if abs(x["width"]) < 0.01]
    assert "EVA floor mat 12 mm" in words and "neutral layer" in words
    assert "Heat gun" in words and "data sheet" in words and "blade" in words
    wide = [(w, h) for _, w, h in lines if w == pytest.approx(160.0, abs=0.05)]
    assert any(h == pytest.approx(10.0, abs=0.05) for _, h in wide)
    marks = sorted(x["x0"] * POINT for x in uprights if x["height"] * POINT == pytest.approx(
        25.0, abs=0.05))
    assert marks[1] - marks[0] == pytest.approx(100.0, abs=0.01)
    ticks = sorted({round(x["x0"] * POINT, 2) for x in uprights
                    if x["height"] * POINT == pytest.approx(4.0, abs=0.05)})
    assert ticks[1] - ticks[0] == pytest.approx(10.0, abs=0.02) and len(ticks) == 17


def test_measurements_become_a_stock_that_the_command_takes(tmp_path, capsys):
    assert main(["calibration", "--thickness", "9.4 mm", "--girth", "28 cm", "--closing", "310 mm",
                 "--pulled", "130", "--out", str(tmp_path)]) == 0
    assert "neutral layer 0.508" in capsys.readouterr().out
    stock = read_stock(tmp_path / "measured-foam.toml")
    assert stock == find_stock(str(tmp_path / "measured-foam.toml"))
    assert (stock.thickness, stock.heated.stretch) == (9.4, 0.15)
    assert stock.neutral == pytest.approx(30 / (2 * 3.14159265 * 9.4), abs=1e-5)
    # Again, with other numbers, on Letter.
    assert main(["calibration", "--stock", str(tmp_path / "measured-foam.toml"), "--pressed", "90",
                 "--paper", "Letter", "--out", str(tmp_path)]) == 0
    again = read_stock(tmp_path / "measured-foam.toml")
    assert (again.neutral, again.heated.compress) == (stock.neutral, 0.05)


def test_what_cannot_be_writes_nothing(tmp_path, capsys):
    assert main(["calibration", "--girth", "300", "--closing", "200", "--out",
                 str(tmp_path / "out")]) == 2
    assert "bad-measurement" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_stock_file_of_the_maker_s_is_not_replaced(tmp_path, capsys):
    mine = tmp_path / "measured-foam.toml"
    mine.write_text("name = 'mine'\n", "utf-8")
    assert main(["calibration", "--pulled", "130", "--out", str(tmp_path)]) == 2
    assert "cannot-write" in capsys.readouterr().err
    assert mine.read_text("utf-8") == "name = 'mine'\n"
    assert [p.name for p in tmp_path.iterdir()] == ["measured-foam.toml"]


def test_all_that_is_wrong_is_told(tmp_path, capsys):
    assert main(["calibration", "--pulled", "90", "--pressed", "110", "--out", str(tmp_path)]) == 2
    told = capsys.readouterr().err
    assert "90 mm" in told and "110 mm" in told
