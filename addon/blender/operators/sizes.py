"""The suit in several sizes: listed, loaded from a table, and written in one go."""

from pathlib import Path

import bpy
from bpy.app.translations import pgettext_rpt as rpt_
from bpy.props import BoolProperty, StringProperty

from ...core.errors import FoamError
from ...files.sizes import table
from .. import sizes
from .base import FoamOperator
from .templates import DIRECTORY, FILTER, Export, maker


class _Listed(FoamOperator):
    """An operator on the size that is chosen in the list."""

    @classmethod
    def poll(cls, context):
        if context.scene.foamwright.sizes:
            return True
        cls.poll_message_set("No sizes are listed")
        return False

    @staticmethod
    def place(group) -> int:
        return min(group.size, len(group.sizes) - 1)


class AddSize(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.add_size"
    bl_label = "Add Size"
    bl_description = "Add a size of the suit to the list"
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context):
        group = context.scene.foamwright
        used = {row.name.lower() for row in group.sizes}
        names = (*"SML", "XL", *(f"Size {n}" for n in range(1, len(used) + 2)))
        group.sizes.add().name = next(name for name in names if name.lower() not in used)
        group.size = len(group.sizes) - 1


class RemoveSize(_Listed, bpy.types.Operator):
    bl_idname = "foamwright.remove_size"
    bl_label = "Remove Size"
    bl_description = "Take the chosen size off the list; what was written of it stays"
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context):
        group = context.scene.foamwright
        group.sizes.remove(self.place(group))
        group.size = max(min(group.size, len(group.sizes) - 1), 0)


class MoveSize(_Listed, bpy.types.Operator):
    bl_idname = "foamwright.move_size"
    bl_label = "Move Size"
    bl_description = "Move the chosen size one place down; the first one's codes hold for all"
    bl_options = {"REGISTER", "UNDO"}

    up: BoolProperty(name="Up", description="Move it one place up instead", options={"SKIP_SAVE"})

    @classmethod
    def description(cls, context, properties):
        return (rpt_("Move the chosen size one place up; the first one's codes hold for all")
                if properties.up else "")

    def run(self, context):
        group = context.scene.foamwright
        place = self.place(group)
        other = place + (-1 if self.up else 1)
        if not 0 <= other < len(group.sizes):
            return False
        group.sizes.move(place, other)
        group.size = other


def _tell_others(operator: bpy.types.Operator, error: FoamError) -> None:
    """Report every row that makes no sense, not the first one alone, since each must be put
    right."""
    for finding in error.findings[1:]:
        if finding.code == "bad-sizes":
            operator.report({"ERROR"}, f"{rpt_(finding.message)} {rpt_(finding.remedy)}")


class LoadSizes(FoamOperator, bpy.types.Operator):
    bl_idname = "foamwright.load_sizes"
    bl_label = "Load Sizes"
    bl_description = ("List the sizes of a table in place of these: a CSV or JSON file with a "
                      "column name, and columns such as factor, across, deep, tall or girth@300mm")
    bl_options = {"REGISTER", "UNDO"}

    filepath: StringProperty(name="File", description="The table, a CSV or JSON file",
                             subtype="FILE_PATH", options={"SKIP_SAVE"})
    filter_glob: StringProperty(default="*.csv;*.json", options={"HIDDEN", "SKIP_SAVE"})

    def invoke(self, context, event):
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def fail(self, context, error):
        super().fail(context, error)
        _tell_others(self, error)

    def run(self, context):
        found = table(Path(bpy.path.abspath(self.filepath)))
        sizes.store(context.scene, found)
        self.report({"INFO"}, rpt_("Sizes listed: {names}").format(
            names=", ".join(name for name, _ in found)))


class WriteSizes(Export, bpy.types.Operator):
    bl_idname = "foamwright.write_sizes"
    bl_label = "Write All Sizes"
    bl_description = ("Write templates, mat layouts, build plan and report of every size on the "
                      "list, each into a folder of its own, with the same codes: all of them, or "
                      "none where one cannot be made")
    bl_options = {"REGISTER", "UNDO"}

    directory: StringProperty(**DIRECTORY)
    filter_folder: BoolProperty(**FILTER)

    def prepare(self, context):
        from ...export.folder import write_set
        from ...export.size_set import jobs, made

        wanted = sizes.wanted(context.scene)
        folder = Path(self.target(context))
        sculpt, settings = self.read_worn(context)
        make = maker(context.scene)

        def work(progress):
            todo = jobs(sculpt, settings, wanted, folder)
            share = 0.8 / len(todo)
            done = made(todo, sculpt, lambda sized, chosen, n: make(
                sized, chosen,
                lambda part, text: progress(share * (n + part), f"{chosen.size.name}: {text}")))
            files = write_set([(pattern, job.out) for job, pattern in done], progress=lambda
                              part, text: progress(0.8 + 0.2 * part, text))
            return [pattern for _, pattern in done], sum(map(len, files)), str(folder)

        return work

    def keep(self, context, patterns):
        """What is found about other sizes stands in their reports, not in the list of the suit."""
        sizes.keep(context.scene, patterns)

    def fail(self, context, error):
        super().fail(context, error)
        _tell_others(self, error)

    def words(self, result):
        patterns, count, folder = result
        return rpt_("Sizes written: {names}. Files: {count}, in folders in {folder}").format(
            names=", ".join(p.settings.size.name for p in patterns), count=count, folder=folder)


CLASSES = (AddSize, RemoveSize, MoveSize, LoadSizes, WriteSizes)
