"""The extension as a maker gets it: built, installed in an empty profile, used and removed."""

from __future__ import annotations

import re
import sys
import tomllib

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name, parse_wheel_filename

pytest.importorskip("bpy", reason="Blender's Python module is not installed")


@pytest.fixture(scope="module")
def builder(root):
    """The build script as a module."""
    sys.path.insert(0, str(root / "scripts"))
    try:
        import build_extension

        yield build_extension
    finally:
        sys.path.remove(str(root / "scripts"))


@pytest.fixture(scope="module")
def wheels(builder):
    """The wheels for this platform and this Python."""
    import environment

    python = "{}.{}".format(*sys.version_info)
    try:
        return builder.fetch_all([builder.this_platform()], [python])
    except environment.Problem as problem:
        pytest.skip(f"the wheels cannot be fetched here: {problem}")


@pytest.fixture(scope="module")
def package(builder, wheels, tmp_path_factory):
    """The zip; building it runs Blender's own validation."""
    python = "{}.{}".format(*sys.version_info)
    return builder.build([builder.this_platform()], [python], tmp_path_factory.mktemp("zip"))


@pytest.fixture(scope="module")
def manifest(root):
    return tomllib.loads((root / "addon" / "blender_manifest.toml").read_text("utf-8"))


def test_the_extension_asks_for_files_and_nothing_else(manifest):
    assert manifest["id"] == "foamwright"
    assert list(manifest["permissions"]) == ["files"]
    assert manifest["license"] == ["SPDX:GPL-3.0-or-later"]


def test_the_wheels_bring_all_they_need_and_blender_brings_numpy(wheels, builder):
    import numpy
    from notices import metadata

    versions = {canonicalize_name(metadata(wheel)["Name"]): metadata(wheel)["Version"]
                for wheel in wheels}
    assert "numpy" not in versions
    versions["numpy"] = numpy.__version__
    for wheel in wheels:
        for line in metadata(wheel).get_all("Requires-Dist", ()):
            need = Requirement(line)
            if need.marker is None or need.marker.evaluate({"extra": ""}):
                name = canonicalize_name(need.name)
                assert name in versions, f"{wheel.name} needs {line}"
                assert need.specifier.contains(versions[name], prereleases=True), line


def test_every_wheel_has_an_entry_in_the_notices(wheels, root, builder):
    text = (root / "addon" / builder.NOTICES).read_text("utf-8")
    entries = dict(re.findall(r"^## (\S+)\n\nVersion .*? Licence: (.+?)\. ", text, re.MULTILINE))
    for wheel in wheels:
        assert entries.get(parse_wheel_filename(wheel.name)[0]), wheel.name


def test_the_zip_carries_every_module_and_no_caches(package, wheels, root):
    import zipfile

    with zipfile.ZipFile(package) as archive:
        names = set(archive.namelist())
        manifest = tomllib.loads(archive.read("blender_manifest.toml").decode("utf-8"))
    modules = {path.relative_to(root / "addon").as_posix()
               for path in (root / "addon").rglob("*.py")}
    assert modules <= names
    assert not [name for name in names if "__pycache__" in name or name.endswith(".pyc")]
    assert set(manifest["wheels"]) == {f"./wheels/{wheel.name}" for wheel in wheels}
    assert {name[2:] for name in manifest["wheels"]} <= names


def test_the_zip_carries_the_example_and_it_is_small(package, root):
    import zipfile

    with zipfile.ZipFile(package) as archive:
        found = archive.getinfo("assets/ferry_warden.blend")
        assert archive.read(found) == (root / "example_scenes/ferry_warden.blend").read_bytes()
    assert found.compress_size < 1_000_000


INSTALL_USE_REMOVE = """
import sys
from pathlib import Path
import bpy
import addon_utils
import numpy

package, out = sys.argv[1:]
profile = Path(bpy.utils.user_resource("EXTENSIONS")).resolve()
# Blender brings itself and numpy; all else has to come out of the zip.
others = ("site-packages", "dist-packages", "packages-in-blender")
sys.path[:] = [path for path in sys.path if not path.endswith(others)]
bpy.ops.wm.read_factory_settings(use_empty=True)
print("INSTALL", bpy.ops.extensions.package_install_files(
    filepath=package, repo="user_default", enable_on_install=True))
name = "bl_ext.user_default.foamwright"
assert addon_utils.check(name)[1], "the extension is not enabled"

import scipy, shapely, fpdf, ezdxf
for module in (scipy, shapely, fpdf, ezdxf):
    assert profile in Path(module.__file__).resolve().parents, module.__file__

# A tent: two sheets that meet in a marked seam.
mesh = bpy.data.meshes.new("tent")
mesh.from_pydata([(0, -.1, 0), (.2, -.1, 0), (.2, 0, .05), (0, 0, .05), (0, .1, 0), (.2, .1, 0)],
                 [], [(0, 1, 2, 3), (3, 2, 5, 4)])
seam = [set(edge.vertices) == {2, 3} for edge in mesh.edges]
mesh.attributes.new("uv_seam", "BOOLEAN", "EDGE").data.foreach_set("value", seam)
tent = bpy.data.objects.new("tent", mesh)
bpy.context.scene.collection.objects.link(tent)
bpy.context.view_layer.objects.active = tent
tent.select_set(True)
print("ADD", bpy.ops.foamwright.add_to_suit())
bpy.context.scene.foamwright.nest_seconds = 0.1
print("MAKE", bpy.ops.foamwright.make_pattern("EXEC_DEFAULT", directory=out))

print("EXAMPLE", bpy.ops.foamwright.open_example())
assert bpy.data.filepath == "" and any(o.foamwright.include for o in bpy.data.objects)

index = next(i for i, repo in enumerate(bpy.context.preferences.extensions.repos)
             if repo.module == "user_default")
print("REMOVE", bpy.ops.extensions.package_uninstall(repo_index=index, pkg_id="foamwright"))
assert not addon_utils.check(name)[1]
assert not (profile / "user_default" / "foamwright").exists()
assert not hasattr(bpy.types.Scene, "foamwright"), "properties stay behind"
"""


def test_installed_in_an_empty_profile_it_makes_a_pattern_and_goes_again(
        package, run_in_blender, tmp_path):
    out = tmp_path / "out"
    done = run_in_blender(INSTALL_USE_REMOVE, package, out)
    assert done.returncode == 0, done.stdout + done.stderr
    for step in ("INSTALL", "MAKE", "EXAMPLE", "REMOVE"):
        assert f"{step} {{'FINISHED'}}" in done.stdout, done.stdout + done.stderr
    assert (out / "pattern.pdf").read_bytes().startswith(b"%PDF-")
    assert (out / "report.json").is_file()
    assert list((out / "mats").glob("*.svg")) and list((out / "mats").glob("*.dxf"))
