"""Foamwright: templates and a build plan for armour of thick foam, from a marked sculpt.

Blender loads this package as an extension; everything but `addon.blender` also
runs without Blender, so that package is imported only when Blender registers it.
"""


def register() -> None:
    """Called by Blender when the extension is enabled."""
    from . import blender

    blender.register()


def unregister() -> None:
    """Called by Blender when the extension is disabled."""
    from . import blender

    blender.unregister()
