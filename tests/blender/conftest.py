"""Every test starts from an empty file with the add-on registered, and leaves nothing behind."""

import hashlib

import numpy as np
import pytest


@pytest.fixture(autouse=True)
def registered():
    bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")
    import addon

    bpy.ops.wm.read_factory_settings(use_empty=True)
    addon.register()
    yield addon
    bpy.ops.wm.read_factory_settings(use_empty=True)
    # Blender 4.5 does not end while classes are registered.
    addon.unregister()


@pytest.fixture
def scene(registered):
    """A scene in metres."""
    import bpy

    bpy.context.scene.unit_settings.system = "METRIC"
    return bpy.context.scene


def grid_arrays(columns, rows, width, height):
    """Vertices and quads of a flat sheet in the plane y = 0, its outside towards -y."""
    x, z = np.meshgrid(np.linspace(0, width, columns + 1), np.linspace(0, height, rows + 1))
    vertices = np.stack([x.ravel(), np.zeros(x.size), z.ravel()], axis=1)
    corner = (np.arange(rows)[:, None] * (columns + 1) + np.arange(columns)).ravel()
    return vertices, np.stack(
        [corner, corner + 1, corner + columns + 2, corner + columns + 1], axis=1)


@pytest.fixture
def add_object(scene):
    """add_object(name, vertices, faces, seams=(), trenches=(), scores=()); marks: vertex pairs."""
    import bpy

    def add(name, vertices, faces, seams=(), trenches=(), scores=()):
        mesh = bpy.data.meshes.new(name)
        mesh.from_pydata(np.asarray(vertices).tolist(), [], np.asarray(faces).tolist())
        pairs = {tuple(sorted(e.vertices)): e.index for e in mesh.edges}
        for attribute, edges in (("uv_seam", seams), ("foamwright_trench", trenches),
                                 ("foamwright_score", scores)):
            if len(edges):
                flags = np.zeros(len(mesh.edges), dtype=bool)
                flags[[pairs[tuple(sorted(e))] for e in edges]] = True
                mesh.attributes.new(attribute, "BOOLEAN", "EDGE").data.foreach_set("value", flags)
        item = bpy.data.objects.new(name, mesh)
        scene.collection.objects.link(item)
        bpy.context.view_layer.update()
        return item

    return add


@pytest.fixture
def add_sheet(add_object):
    """add_sheet(name, columns, rows, width, height, **marks) in Blender units."""

    def add(name="sheet", columns=2, rows=2, width=0.2, height=0.2, **marks):
        return add_object(name, *grid_arrays(columns, rows, width, height), **marks)

    return add


@pytest.fixture
def read(scene):
    """read(*objects) -> (Sculpt, sources) with the scene's settings."""
    from addon.blender.read import read_scene
    from addon.blender.settings import read_settings

    return lambda *objects: read_scene(scene, objects, read_settings(scene))


@pytest.fixture
def fingerprint():
    """fingerprint() of the maker's data: names and contents of meshes, objects and scenes."""
    import bpy

    def value(attribute):
        field = {"FLOAT_VECTOR": "vector", "FLOAT2": "vector", "INT16_2D": "value",
                 "INT32_2D": "value", "BYTE_COLOR": "color",
                 "FLOAT_COLOR": "color"}.get(attribute.data_type, "value")
        width = {"FLOAT_VECTOR": 3, "FLOAT2": 2, "INT16_2D": 2, "INT32_2D": 2, "BYTE_COLOR": 4,
                 "FLOAT_COLOR": 4}.get(attribute.data_type, 1)
        kind = {"BOOLEAN": bool, "FLOAT": np.float32, "FLOAT_VECTOR": np.float32,
                "FLOAT2": np.float32, "BYTE_COLOR": np.float32,
                "FLOAT_COLOR": np.float32}.get(attribute.data_type, np.int32)
        out = np.empty(len(attribute.data) * width, dtype=kind)
        attribute.data.foreach_get(field, out)
        return out.tobytes()

    def take():
        digest = hashlib.sha256()
        for mesh in bpy.data.meshes:
            digest.update(mesh.name.encode())
            for attribute in sorted(mesh.attributes, key=lambda a: a.name):
                digest.update(attribute.name.encode() + value(attribute))
        for item in bpy.data.objects:
            state = (item.name, item.mode, item.data and item.data.name, item.select_get(),
                     tuple(map(tuple, item.matrix_world)),
                     [(m.name, m.type, m.show_viewport) for m in item.modifiers])
            digest.update(repr(state).encode())
        digest.update(repr([s.name for s in bpy.data.scenes]).encode())
        return digest.hexdigest()

    return take
