"""The base class of operators on elements of the meshes in Edit Mode."""

from __future__ import annotations

from collections.abc import Callable

import bmesh
import bpy

from .base import FoamOperator


class EditOperator(FoamOperator):
    """An operator on every mesh in Edit Mode."""

    @classmethod
    def poll(cls, context):
        if context.mode == "EDIT_MESH":
            return True
        cls.poll_message_set("Enter Edit Mode first")
        return False

    def each_mesh(self, context: bpy.types.Context,
                  change: Callable[[bmesh.types.BMesh], int]) -> int:
        """Apply `change` to each mesh; it returns how many elements it changed. Their sum."""
        total = 0
        for item in context.objects_in_mode_unique_data:
            changed = change(bmesh.from_edit_mesh(item.data))
            if changed:
                bmesh.update_edit_mesh(item.data, loop_triangles=False, destructive=False)
            total += changed
        return total
