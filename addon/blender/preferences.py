"""What a maker sets once for every file: unit, paper, foam."""

import bpy
from bpy.props import EnumProperty, StringProperty

from .choices import PAPERS, UNITS

PACKAGE = __package__.rpartition(".")[0]  # "addon", or "bl_ext.<repository>.foamwright"


class FoamwrightPreferences(bpy.types.AddonPreferences):
    """The extension's entry in Blender's preferences."""

    bl_idname = PACKAGE

    unit: EnumProperty(
        name="Unit",
        description="Unit of the lengths you read in the sidebar and on the templates",
        items=UNITS,
        default="mm",
    )
    paper: EnumProperty(
        name="Paper",
        description="Paper in your printer; a file can choose another",
        items=PAPERS,
        default="A4",
    )
    stock_file: StringProperty(
        name="Stock File",
        description="TOML file that describes your own foam, with the limits you measured; "
                    "used wherever a file names no stock",
        subtype="FILE_PATH",
    )

    def draw(self, context):
        layout = self.layout
        layout.use_property_split = True
        layout.prop(self, "unit")
        layout.prop(self, "paper")
        layout.prop(self, "stock_file")


def get(context: bpy.types.Context | None = None) -> FoamwrightPreferences | None:
    """The maker's preferences; None where the add-on runs without being installed."""
    addons = (context or bpy.context).preferences.addons
    return addons[PACKAGE].preferences if PACKAGE in addons else None


def register() -> None:
    bpy.utils.register_class(FoamwrightPreferences)


def unregister() -> None:
    bpy.utils.unregister_class(FoamwrightPreferences)
