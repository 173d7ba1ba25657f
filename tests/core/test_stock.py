"""Stocks: the shipped table, the TOML format and what is refused."""

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from addon.core.errors import FoamError
from addon.core.stock import DEFAULT, SOURCES, Stock, find_stock, read_stock, shipped

DOCS = Path(__file__).parents[2] / "docs" / "stock.md"
EXAMPLE = re.search(r"```toml\n(.*?)```", DOCS.read_text(encoding="utf-8"), re.DOTALL).group(1)


@pytest.fixture
def refused(tmp_path):
    """The finding for the example of the docs after some text in it was replaced."""

    def refuse(text):
        path = tmp_path / "foam.toml"
        path.write_text(text, encoding="utf-8")
        with pytest.raises(FoamError) as caught:
            read_stock(path)
        assert caught.value.finding.code == "bad-stock"
        assert "foam.toml" in caught.value.finding.message
        return caught.value.finding

    return refuse


def with_line(key, value, section=None):
    """The example with the value of one key replaced."""
    head, sep, tail = EXAMPLE.partition(f"[{section}]") if section else ("", "", EXAMPLE)
    tail, found = re.subn(rf"(?m)^{key} = [^#\n]*", lambda _: f"{key} = {value} ", tail, count=1)
    assert found == 1
    return head + sep + tail


def test_the_example_of_the_docs_is_read_value_by_value(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(EXAMPLE, encoding="utf-8")
    stock = read_stock(path)
    assert (stock.name, stock.thickness, stock.sheet) == ("Blue mat 12 mm", 12.4, (570.0, 570.0))
    assert (stock.neutral, stock.kerf, stock.gap, stock.grain) == (0.52, 0.0, 3.0, False)
    assert (stock.cold.compress, stock.cold.stretch, stock.cold.radius) == (0.02, 0.03, 5.0)
    assert (stock.heated.compress, stock.heated.stretch, stock.heated.radius) == (0.05, 0.10, 2.0)
    assert "mine.toml" in stock.origin


def test_the_docs_list_the_shipped_stocks_and_where_their_values_come_from():
    text = " ".join(DOCS.read_text(encoding="utf-8").split())
    for name, stock in shipped().items():
        default = " (default)" if name == DEFAULT else ""
        width, height = stock.sheet
        assert (f"| `{name}`{default} | {stock.name} | {width:g} × {height:g} "
                f"| {stock.density:g} |") in text
    for key, origin in SOURCES.items():
        assert f"**{key}**: {origin}" in text
    limits = {(s.cold, s.heated, s.neutral) for s in shipped().values()}
    assert len(limits) == 1


def test_shipped_stocks_obey_the_rules_of_the_file(tmp_path):
    for stock in shipped().values():
        lines = [f'name = "{stock.name}"', f"sheet = [{stock.sheet[0]}, {stock.sheet[1]}]"]
        lines += [f"{k} = {getattr(stock, k)}"
                  for k in ("thickness", "neutral", "kerf", "gap", "density")]
        for state in ("cold", "heated"):
            lines.append(f"[{state}]")
            lines += [f"{k} = {v}" for k, v in vars(getattr(stock, state)).items()]
        path = tmp_path / "s.toml"
        path.write_text("\n".join(lines), encoding="utf-8")
        assert replace(read_stock(path), origin=stock.origin) == stock


def test_the_default_is_ten_millimetre_foam():
    assert find_stock().thickness == 10.0


def test_a_thickness_overrides_and_renames():
    assert find_stock("eva-10", 8.0).name == "EVA sheet 8 mm"
    assert find_stock("EVA-10", 8.0).thickness == 8.0
    assert Stock("Scraps", 5.0).with_thickness(7.5).name == "Scraps 7.5 mm"
    assert Stock("Type 110 foam", 10.0).with_thickness(6.0).name == "Type 110 foam 6 mm"


@pytest.mark.parametrize("thickness", [0.0, -1.0, math.nan, math.inf, 1e6])
def test_impossible_thicknesses_are_refused(thickness):
    with pytest.raises(FoamError) as caught:
        find_stock("eva-10", thickness)
    assert caught.value.finding.code == "bad-stock"


def test_an_unknown_name_is_refused_with_the_nearest_one():
    with pytest.raises(FoamError) as caught:
        find_stock("eva10")
    assert "“eva-10”" in caught.value.finding.message
    assert all(name in caught.value.finding.remedy for name in shipped())


def test_a_file_is_found_by_its_path(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(EXAMPLE, encoding="utf-8")
    assert find_stock(str(path)) == find_stock(path) == read_stock(path)


@pytest.mark.parametrize("path", ["nowhere.toml", "no/such/foam", "."])
def test_a_file_that_cannot_be_read_is_refused(path, tmp_path):
    with pytest.raises(FoamError) as caught:
        read_stock(tmp_path / path)
    assert caught.value.finding.code == "bad-stock"
    assert str(tmp_path) in caught.value.finding.message


@pytest.mark.parametrize(("key", "value", "section"), [
    ("thickness", "-3", None), ("thickness", "0", None), ("thickness", "nan", None),
    ("thickness", "inf", None), ("thickness", '"10 mm"', None), ("thickness", "true", None),
    ("name", "3", None), ("name", '""', None), ("name", '"a\\nb"', None),
    ("sheet", "600", None), ("sheet", "[600]", None), ("sheet", "[600, -1]", None),
    ("sheet", '["a", "b"]', None), ("sheet", "[600, 600, 10]", None),
    ("neutral", "1.01", None), ("neutral", "-0.1", None),
    ("kerf", "-0.1", None), ("gap", "-1", None), ("grain", "1", None), ("grain", '"yes"', None),
    ("compress", "1", "cold"), ("compress", "-0.1", "cold"), ("stretch", "3", "heated"),
    ("radius", "-1", "cold"), ("stretch", "[0.1]", "cold"), ("radius", "nan", "heated"),
])
def test_an_impossible_value_is_refused_by_key(refused, key, value, section):
    finding = refused(with_line(key, value, section))
    assert f"`{section + '.' if section else ''}{key}`" in finding.message
    assert finding.remedy


@pytest.mark.parametrize(("key", "value"), [
    ("compress", "0.01"), ("stretch", "0.01"), ("radius", "9")])
def test_foam_that_heat_makes_worse_is_refused(refused, key, value):
    assert f"`heated.{key}`" in refused(with_line(key, value, "heated")).message


def test_an_unknown_key_is_refused_with_the_nearest_one(refused):
    assert "“thickness”" in refused(EXAMPLE.replace("thickness", "thicknes")).message
    finding = refused(EXAMPLE.replace("stretch", "strech", 1))
    assert "`cold.strech`" in finding.message
    assert "“stretch”" in finding.message


@pytest.mark.parametrize("key", ["name", "thickness", "sheet", "neutral", "radius"])
def test_a_missing_key_is_named(refused, key):
    finding = refused(re.sub(rf"(?m)^{key} = .*\n", "", EXAMPLE, count=1))
    assert f"{key}`" in finding.message


def test_missing_sections_are_named_together(refused):
    finding = refused(EXAMPLE.partition("[cold]")[0])
    assert "`cold`" in finding.message and "`heated`" in finding.message


@pytest.mark.parametrize("text", ["thickness 10", "a = [", "\ufffe = 1", "a = 1\na = 2"])
def test_what_is_not_toml_is_refused(refused, text):
    assert "not a TOML file" in refused(text).message


def test_bytes_that_are_no_text_are_refused(tmp_path):
    path = tmp_path / "foam.toml"
    path.write_bytes(b"\xff\xfe\x00name")
    with pytest.raises(FoamError) as caught:
        read_stock(path)
    assert caught.value.finding.code == "bad-stock"


_VALUE = st.one_of(st.floats(-1e4, 1e4).map(lambda x: f"{x:.6g}"), st.integers().map(str),
                   st.sampled_from(["nan", "inf", "true", '"x"', "[]", "{}", "[1, 2]"]))


@settings(max_examples=80, deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(key=st.sampled_from(["thickness", "sheet", "neutral", "kerf", "gap", "grain",
                            "compress", "stretch", "radius"]), value=_VALUE)
def test_any_value_is_either_refused_or_within_the_documented_range(tmp_path, key, value):
    path = tmp_path / "foam.toml"
    path.write_text(with_line(key, value), encoding="utf-8")
    try:
        stock = read_stock(path)
    except FoamError as error:
        assert error.finding.code == "bad-stock"
    else:
        assert 0.1 <= stock.thickness <= 100
        assert 0 <= stock.neutral <= 1
        assert 0 <= stock.kerf <= 20 and 0 <= stock.gap <= 100
        assert all(10 <= side <= 100_000 for side in stock.sheet)
        for limits in (stock.cold, stock.heated):
            assert 0 <= limits.compress < 1 and 0 <= limits.stretch <= 1
            assert 0 <= limits.radius <= 1000
