"""Many findings become a short list, the most serious first, and none of them is lost."""

import ast
from pathlib import Path

import pytest

import addon
from addon.command.findings import blocks
from addon.core.errors import ERROR, NOTE, WARNING, Finding
from addon.export.findings import TITLES, grouped


def finding(code, severity=WARNING, message="It is so.", remedy="Do it.", **more):
    return Finding(code, severity, message, remedy, **more)


def test_findings_of_one_kind_share_a_line():
    found = [finding("ease-seam", message=f"Seam {i}.") for i in range(12)]
    found.insert(5, finding("bevel-turns", message="The bevel turns."))
    groups = grouped(found)
    assert [(g.code, g.title, len(g.members)) for g in groups] == [
        ("bevel-turns", TITLES["bevel-turns"], 1), ("ease-seam", TITLES["ease-seam"], 12)]
    assert groups[1].members == (0, 1, 2, 3, 4, 6, 7, 8, 9, 10, 11, 12)


def test_every_finding_is_in_exactly_one_group():
    found = [finding(code, severity, remedy=remedy) for code in ("a", "tube", "ease-seam")
             for severity in (NOTE, ERROR, WARNING) for remedy in ("Do it.", "Do that.")] * 2
    members = [i for group in grouped(found) for i in group.members]
    assert sorted(members) == list(range(len(found)))
    for group in grouped(found):
        kinds = {(found[i].code, found[i].severity, found[i].remedy) for i in group.members}
        assert kinds == {(group.code, group.severity, group.remedy)}


def test_the_most_serious_lead_and_the_sculpt_comes_before_the_foam():
    found = [finding("needs-heat", NOTE), finding("ease-seam"), finding("needs-relief", ERROR),
             finding("flipped-normals", ERROR), finding("loose-vertices", NOTE),
             finding("narrow-strip")]
    assert [g.code for g in grouped(found)] == [
        "flipped-normals", "needs-relief", "narrow-strip", "ease-seam", "needs-heat",
        "loose-vertices"]


def test_nothing_gives_no_groups():
    assert grouped([]) == []


def test_a_code_without_a_title_is_called_by_its_message():
    assert [g.title for g in grouped([finding("no-faces", message="No faces.")])] == ["No faces."]


def codes():
    """Codes of all findings that the program makes, but for those that end its work alone."""
    for path in Path(addon.__file__).parent.rglob("*.py"):
        ended = set()
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):  # from the outside inward
            name = getattr(getattr(node, "func", None), "id", "")
            if name == "FoamError":
                ended |= {id(argument) for argument in node.args}
            elif name == "Finding" and node.args and id(node) not in ended:
                yield from (part.value for part in ast.walk(node.args[0])
                            if isinstance(part, ast.Constant) and "-" in str(part.value))


def test_every_code_that_can_come_often_has_a_title():
    made = set(codes())
    assert {"ease-seam", "needs-relief", "try-on-scrap", "double-walled"} <= made
    assert "missing-file" not in made
    assert made <= set(TITLES), "give these a title in export/findings.py"


@pytest.mark.parametrize(("number", "lines"), [(1, 0), (2, 2), (30, 9)])
def test_the_command_prints_a_kind_once(number, lines):
    found = [finding("ease-seam", message=f"Seam {i} differs.", piece=f"A{i}", edges=[[i, i + 1]])
             for i in range(number)]
    (block,) = blocks(found)
    assert block.count("Do it.") == 1
    assert sum(line.startswith("    - ") for line in block.splitlines()) == lines
    assert "Seam 0 differs." in block and "0-1" in block
    assert (f"{number} times" in block) == (number > 1)
    assert ("and 22 more" in block) == (number == 30)
