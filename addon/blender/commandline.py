"""`blender --command foamwright …`: the same command as `python -m addon …`."""

import bpy

NAME = "foamwright"
_registered = []  # Blender's handle of the command; nothing of the maker's


def run(argv: list[str]) -> int:
    """Run the command with the words that follow its name; the exit code comes back."""
    from ..command import main

    return main(argv)


def register() -> None:
    _registered.append(bpy.utils.register_cli_command(NAME, run))


def unregister() -> None:
    while _registered:
        bpy.utils.unregister_cli_command(_registered.pop())
