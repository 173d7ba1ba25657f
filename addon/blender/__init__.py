"""All that touches Blender: reading the sculpt, the sidebar, the operators.

The interface adds no logic of its own: operators read the scene, call
`core` and `export`, and show what comes back.
"""

from . import (
    build_overlay,
    build_view,
    calibration,
    changes,
    commandline,
    follow,
    lines_shown,
    live,
    memory,
    menus,
    operators,
    overlay,
    panels,
    preferences,
    printed,
    properties,
    schema,
    ticks,
    work,
)

_PARTS = (preferences, properties, build_view, printed, calibration, schema, work, changes, memory,
          operators, panels, menus, follow, live, lines_shown, ticks, overlay, build_overlay,
          commandline)


def register() -> None:
    """Make everything known to Blender; nothing stays registered when a part fails."""
    done = []
    try:
        for part in _PARTS:
            part.register()
            done.append(part)
    except Exception:
        for part in reversed(done):
            part.unregister()
        raise


def unregister() -> None:
    """Undo `register`. What the maker entered stays in the .blend file."""
    for part in reversed(_PARTS):
        part.unregister()
