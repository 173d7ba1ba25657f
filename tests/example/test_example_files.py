"""The .blend files that are kept agree with the script that makes them."""

import numpy as np
import pytest

from example_scenes import armour

SCENES = ("ferry_warden", "ferry_warden_failing")

BUILD_AND_READ = """
import sys
from pathlib import Path
import numpy as np
root, out = Path.cwd(), Path(sys.argv[1])
sys.path.insert(0, str(root))
from addon.blender.read import read_blend
from example_scenes import build_ferry_warden
build_ferry_warden.main(out)
for name in ("ferry_warden", "ferry_warden_failing"):
    for folder, label in ((root / "example_scenes", "kept"), (out, "made")):
        sculpt, settings = read_blend(folder / f"{name}.blend")
        np.savez(out / f"{name}-{label}.npz", vertices=sculpt.vertices, faces=sculpt.faces,
                 edges=sculpt.edges, kinds=sculpt.kinds, face_object=sculpt.face_object,
                 names=[o.name for o in sculpt.objects],
                 stocks=[o.stock.name if o.stock else "" for o in sculpt.objects],
                 rods=np.array([rod.points for rod in sculpt.rods]),
                 thick=[rod.diameter for rod in sculpt.rods],
                 rod_names=[rod.name for rod in sculpt.rods],
                 suit_stock=settings["stock"].name, title=settings["title"])
"""


@pytest.fixture
def scenes(run_in_blender, tmp_path):
    """{(scene, "kept" or "made"): arrays} as the reader sees them."""
    done = run_in_blender(BUILD_AND_READ, tmp_path)
    assert done.returncode == 0, done.stderr
    return {(name, label): dict(np.load(tmp_path / f"{name}-{label}.npz"))
            for name in SCENES for label in ("kept", "made")}


def marked(arrays):
    """Marked edges as a set of (kind, end, end)."""
    return {(int(k), *map(int, e)) for k, e in zip(arrays["kinds"], arrays["edges"], strict=True)}


def test_kept_files_agree_with_the_script(scenes, plates):
    for name in SCENES:
        kept, made = scenes[name, "kept"], scenes[name, "made"]
        for key in ("faces", "face_object", "names", "stocks", "suit_stock", "title"):
            assert np.array_equal(kept[key], made[key]), key
        # Single precision of a metre and a half, and the last bit of sines on other machines.
        for key in ("vertices", "rods"):
            assert np.abs(kept[key] - made[key]).max() < 1e-3
        assert marked(kept) == marked(made)
    main = scenes["ferry_warden", "kept"]
    # The figure is left out, and every plate is there at its true size in mm.
    assert main["names"].tolist() == [p.name for p in plates]
    assert np.abs(main["vertices"] - np.concatenate([p.mesh.vertices for p in plates])).max() < 1e-3
    rails = armour.rails()
    assert main["rod_names"].tolist() == [rail.name for rail in rails]
    assert np.abs(main["rods"] - [rail.axis for rail in rails]).max() < 1e-3
    assert main["thick"] == pytest.approx([rail.diameter for rail in rails], rel=1e-6)
    thin = {n for n, s in zip(main["names"], main["stocks"], strict=True) if s}
    assert thin == {"Gorget", "Forearm left", "Forearm right", "Emblem"}


@pytest.mark.parametrize("name", SCENES)
def test_kept_files_are_small_and_compressed(root, name):
    path = root / "example_scenes" / f"{name}.blend"
    assert path.stat().st_size < 1_500_000
    # Zstandard frame, RFC 8878: magic number FD2FB528, little-endian.
    assert path.read_bytes()[:4] == bytes.fromhex("28b52ffd")


@pytest.mark.parametrize("name", ["suit", "templates", "plan"])
def test_pictures_of_the_readme_are_there_and_light(root, name):
    path = root / "docs" / "pictures" / f"{name}.png"
    assert f"docs/pictures/{name}.png" in (root / "README.md").read_text("utf-8")
    assert path.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"  # PNG, ISO/IEC 15948
    assert path.stat().st_size < 400_000
