"""The rules the code base keeps: who imports whom, hints on public functions, a clean lint.

The rules are functions over source texts, so that a planted violation shows that each can fail.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator, Mapping
from pathlib import PurePosixPath

import pytest

STAGES = ("soundness", "skin", "seams", "layer", "flatten", "formability", "edges", "workable",
          "pairs", "marks", "nest", "order", "rods", "snap", "trace", "bend_lines", "cards",
          "gauges", "tapes", "joining", "point_marks", "laid", "strips", "raised", "widen")
PROCEDURES = ("make", "survey", "suggest", "rebuild", "fit", "sizing", "reach", "transport")
FOUNDATION = ("units", "stock", "model", "mesh", "measures", "fair", "bends", "codes", "mirror",
              "calibration", "inset", "openings", "smears", "stopping", "mock_up", "locate",
              "roads", "figure", "sections")

# A module imports from lower ranks only, and within its own rank where the rank is "shared".
RANKS = {"errors": 0, "foundation": 1, "stage": 2, "procedure": 3, "export": 4, "command": 5,
         "blender": 6, "entry": 7}
SHARED = ("foundation", "export", "command", "blender")
HOST = {"bpy", "bmesh", "mathutils", "gpu", "blf"}


def layer_of(module: tuple[str, ...]) -> str | None:
    """The layer of a module given as its path below addon/, or None for an unknown one."""
    if not module or module == ("__init__",):
        return "entry"
    top = module[0]
    if top == "core":
        name = module[1] if len(module) > 1 else "__init__"
        return ("errors" if name in ("errors", "__init__") else
                "foundation" if name in FOUNDATION else
                "stage" if name in STAGES else
                "procedure" if name in PROCEDURES else None)
    return {"export": "export", "files": "export", "command": "command", "__main__": "command",
            "blender": "blender"}.get(top)


def unit_of(module: tuple[str, ...]) -> tuple[str, ...]:
    """What counts as one module: a stage or procedure that has grown into a folder is one."""
    return module[:2]


def inside_functions(tree: ast.AST) -> set[int]:
    """Identities of the nodes that lie inside a function."""
    functions = (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda)
    return {id(node) for outer in ast.walk(tree) if isinstance(outer, functions)
            for node in ast.walk(outer)}


def imports(sources: Mapping[tuple[str, ...], str], module: tuple[str, ...],
            node: ast.ImportFrom) -> Iterator[tuple[str, ...]]:
    """Modules below addon/ that a relative import names."""
    package = module if (*module, "__init__") in sources else module[:-1]
    if module[-1:] == ("__init__",):
        package = module[:-1]
    up = node.level - 1
    base = package[:len(package) - up] if up else package
    base += tuple(node.module.split(".")) if node.module else ()
    for alias in node.names:
        deeper = (*base, alias.name)
        yield deeper if deeper in sources or (*deeper, "__init__") in sources else base


def violations(sources: Mapping[tuple[str, ...], str]) -> list[str]:
    """Every breach of the import rule, in sources by their path below addon/."""
    found = []
    for module, source in sorted(sources.items()):
        name = ".".join(module)
        layer = layer_of(module)
        if layer is None:
            found.append(f"{name}: has no place in the layers")
            continue
        tree = ast.parse(source)
        inner = inside_functions(tree)
        for node in ast.walk(tree):
            where = f"{name}:{getattr(node, 'lineno', 0)}"
            if isinstance(node, ast.Import | ast.ImportFrom):
                absolute = [a.name for a in node.names] if isinstance(node, ast.Import) else (
                    [] if node.level else [node.module])
                if any(path.split(".")[0] == "addon" for path in absolute):
                    found.append(f"{where}: imports inside addon/ are relative")
                if layer != "blender" and HOST & {path.split(".")[0] for path in absolute}:
                    found.append(f"{where}: names Blender's modules")
            elif layer != "blender" and (
                    isinstance(node, ast.Name) and node.id in HOST
                    or isinstance(node, ast.Constant) and node.value in HOST):
                found.append(f"{where}: names Blender's modules")
            if isinstance(node, ast.ImportFrom) and node.level:
                for target in imports(sources, module, node):
                    found += judge(where, module, target, lazy=id(node) in inner)
    return found


def judge(where: str, module: tuple[str, ...], target: tuple[str, ...], lazy: bool) -> list[str]:
    """The breaches in one import of target by module."""
    mine, theirs = layer_of(module), layer_of(target)
    path = ".".join(target)
    if theirs is None:
        return [f"{where}: imports {path}, which has no place in the layers"]
    if theirs == "blender" and mine in ("command", "entry"):
        return [] if lazy else [f"{where}: imports blender outside a function"]
    if theirs == mine:
        same = unit_of(module) == unit_of(target)
        return [] if same or mine in SHARED else [f"{where}: a {mine} imports another, {path}"]
    return [] if RANKS[theirs] < RANKS[mine] else [f"{where}: imports {path} from a higher rank"]


def unhinted(source: str, methods: bool) -> list[str]:
    """Public functions (and methods of public classes) without a hint on what they take and
    give."""
    tree = ast.parse(source)
    bodies = [tree] + [node for node in tree.body
                       if methods and isinstance(node, ast.ClassDef) and node.name[0] != "_"]
    found = []
    for body in bodies:
        for node in body.body:
            if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
                continue
            a = node.args
            arguments = [*a.posonlyargs, *a.args, *a.kwonlyargs]
            if body is not tree and not any(getattr(d, "id", "") == "staticmethod"
                                            for d in node.decorator_list):
                arguments = arguments[1:]
            if node.returns is None or any(arg.annotation is None for arg in arguments):
                found.append(f"{node.name} (line {node.lineno})")
    return found


@pytest.fixture(scope="module")
def sources(root):
    """The text of every module, by its path below addon/."""
    paths = (root / "addon").rglob("*.py")
    return {path.relative_to(root / "addon").with_suffix("").parts: path.read_text("utf-8")
            for path in paths}


def test_modules_import_from_lower_ranks_only(sources):
    assert len(sources) > 20
    assert violations(sources) == []


def planted(path: str, source: str) -> list[str]:
    """The breaches after one module is added to a small sound tree."""
    tree = {"__init__": "def register():\n    from . import blender\n",
            "core/__init__": "", "core/errors": "import numpy",
            "core/model": "from .errors import Finding\nfrom .stock import Stock",
            "core/stock": "from .errors import Finding",
            "core/seams": "from . import mesh\nfrom .model import Cut", "core/mesh": "",
            "core/nest/__init__": "from .raster import pack",
            "core/nest/raster": "from ..model import Sheet\nfrom . import holes",
            "core/nest/holes": "",
            "core/make": "from . import seams\nfrom .nest import nest_mats",
            "export/__init__": "", "export/drawing": "from ..core.model import Piece",
            "export/svg": "from .drawing import STYLE",
            "files/__init__": "from ..core.units import MM_PER", "core/units": "",
            "command": "from .export import svg\ndef read():\n    from .blender import read\n",
            "blender/__init__": "import bpy\nfrom . import read",
            "blender/read": "from ..command import main"}
    modules = {PurePosixPath(name).parts: text for name, text in tree.items()}
    assert violations(modules) == []
    return violations({**modules, PurePosixPath(path).parts: source})


@pytest.mark.parametrize(("path", "source", "complaint"), [
    ("core/errors", "from .units import MM_PER", "higher rank"),
    ("core/errors", "from . import units", "higher rank"),
    ("core/model", "from . import seams", "higher rank"),
    ("core/stock", "def f():\n    from .make import check", "higher rank"),
    ("core/layer", "from .seams import cut", "a stage imports another"),
    ("core/layer", "from . import seams", "a stage imports another"),
    ("core/nest/raster", "from ..seams import cut", "a stage imports another"),
    ("core/seams", "from .nest.raster import pack", "a stage imports another"),
    ("core/seams", "def f():\n    from ..export import svg", "higher rank"),
    ("core/fit", "from .make import check", "a procedure imports another"),
    ("core/make", "from ..files import read_mesh", "higher rank"),
    ("export/svg", "from ..command import main", "higher rank"),
    ("files/__init__", "from .. import command", "higher rank"),
    ("command", "from .blender import read", "outside a function"),
    ("command", "from . import blender", "outside a function"),
    ("__init__", "from . import blender", "outside a function"),
    ("blender/read", "from .. import register", "higher rank"),
    ("core/seams", "import addon.core.mesh", "are relative"),
    ("core/seams", "from addon.core import mesh", "are relative"),
    ("core/seams", "import bpy", "names Blender"),
    ("core/seams", "def f():\n    from mathutils import Vector", "names Blender"),
    ("export/svg", "import importlib\nm = importlib.import_module('bmesh')", "names Blender"),
    ("export/svg", "def f(x=None):\n    return gpu", "names Blender"),
    ("command", "import bpy.app", "names Blender"),
    ("core/extra", "", "no place in the layers"),
    ("helpers", "", "no place in the layers"),
])
def test_a_planted_breach_is_found(path, source, complaint):
    found = planted(path, source)
    assert found and all(complaint in line for line in found), found


def test_the_core_loads_without_blender(root):
    code = "import addon.core.make, sys; print(sorted({'bpy', 'bmesh'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "[]"


def test_public_functions_tell_what_they_take_and_give(sources):
    # Blender prescribes the methods of its own classes, so there only functions are asked for.
    missing = {".".join(module): found for module, source in sources.items()
               if (found := unhinted(source, methods=module[0] != "blender"))}
    assert missing == {}


@pytest.mark.parametrize(("source", "count"), [
    ("def f(a: int) -> int: ...", 0),
    ("def f(a) -> int: ...", 1),
    ("def f(a: int): ...", 1),
    ("def f(*, a) -> int: ...", 1),
    ("def _f(a): ...", 0),
    ("class A:\n    def f(self) -> int: ...\n    def g(self, a): ...", 1),
    ("class _A:\n    def g(self, a): ...", 0),
])
def test_a_missing_hint_is_found(source, count):
    assert len(unhinted(source, methods=True)) == count


def test_ruff_finds_nothing(root):
    pytest.importorskip("ruff")
    done = subprocess.run([sys.executable, "-m", "ruff", "check", "--no-cache", "--output-format",
                           "concise", "."], cwd=root, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
