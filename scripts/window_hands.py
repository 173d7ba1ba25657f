"""Mouse, keyboard and eyes for window_steps.py: what a person does at Blender's window.

Everything goes through the X server by `xdotool`, as from a real mouse. Generators are to be
used with `yield from`; they yield seconds in which Blender does its own work.
"""

import subprocess
import time

import bpy
import numpy as np
from bpy_extras.view3d_utils import location_3d_to_region_2d

_places = {}  # (what a button does, along) -> where it lay the last time
DRAWN = 0.6  # seconds until a change is on the screen, drawn by software
WIDE = 1000  # pixels of a picture, more would make its text small on a page
ROW = 16  # pixels, less than the height of a button
PAGES = 8  # of the sidebar with every panel open, and more
UNIT = 20  # pixels, the height of a button and of a row of a list


def window():
    """Blender's window; looked up anew each time, since a file that is opened brings its own."""
    return bpy.context.window_manager.windows[0]


def area(kind="VIEW_3D"):
    """The largest area of a kind."""
    found = [a for a in window().screen.areas if a.type == kind]
    return max(found, key=lambda a: a.width * a.height)


def region(kind="WINDOW", inside="VIEW_3D"):
    """The region of an area: its WINDOW, its sidebar (UI) or another."""
    return next(r for r in area(inside).regions if r.type == kind)


def context(kind="WINDOW", inside="VIEW_3D"):
    """Blender's context as if the pointer stood in that region."""
    return bpy.context.temp_override(window=window(), screen=window().screen,
                                     area=area(inside), region=region(kind, inside))


def xdotool(*words):
    subprocess.run(["xdotool", *(str(word) for word in words)], check=True)


def move(x, y):
    """Put the pointer at a place of the window, counted from its lower left as Blender does."""
    xdotool("mousemove", round(x), round(window().height - 1 - y))


def click(x, y, button=1, holding=()):
    """Go to a place, rest there as a hand does, and click."""
    move(x - 1, y)
    yield 0.1
    move(x, y)
    yield 0.1
    for key in holding:
        xdotool("keydown", key)
    xdotool("click", button)
    for key in holding:
        xdotool("keyup", key)
    yield from settle()


def settle():
    """Let Blender handle what was typed and clicked: some turns of its loop, however slow."""
    for _ in range(4):
        yield 0.08


def key(name):
    """Press a key or a combination such as ctrl+z; it goes to where the pointer is."""
    xdotool("key", name)
    yield from settle()


def into_view():
    """Put the pointer in the middle of the sculpt's view, where keys are meant for it."""
    view = region()
    move(view.x + view.width * 0.4, view.y + view.height * 0.5)
    yield 0.2


def on_screen(point):
    """Where a point of the world, in Blender's units, is seen: x and y in the window."""
    view = region()
    found = location_3d_to_region_2d(view, area().spaces.active.region_3d, point)
    assert found is not None, "the point is behind the view"
    return view.x + found[0], view.y + found[1]


def under_pointer():
    """What the button below the pointer does, as Python: the command it runs or the path of the
    property it changes; empty where there is none."""
    manager, buttons, found = bpy.context.window_manager, bpy.ops.ui, []
    with context("UI"):
        for ask, how in ((buttons.copy_python_command_button, {}),
                         (buttons.copy_data_path_button, {"full_path": True})):
            if ask.poll():
                manager.clipboard = ""
                ask(**how)
                found.append(manager.clipboard)
    return " ".join(found) + " "


def find(what, along=0.5):
    """Feel along the sidebar, from its top, for a button; returns its place.

    what: words in what the button does (see `under_pointer`). along: where in the width, 0 to 1,
    the tabs at the right left out. Where buttons lay the last time is tried first.
    """
    for seen in [key for key in _places if what in key[0] and key[1] == along]:
        move(*_places[seen])
        yield from settle()
        if what in under_pointer():
            return _places[seen]
        del _places[seen]
    for page in range(PAGES):
        yield from turn_to(page)
        for x, y in rows(along):
            yield from rest(x, y)
            text = under_pointer()
            _places[text, along] = x, y
            if what in text:
                return x, y
    seen = sorted({text.strip() for text, at in _places if at == along and text.strip()})
    raise AssertionError(f"no button in the sidebar has to do with {what}, but {seen}")


def turn_to(page):
    """Scroll the sidebar to its top for page 0, a page further down for every other."""
    side = region("UI")
    move(side.x + side.width / 2, side.y + side.height - 20)  # where there is always a panel
    yield from settle()
    xdotool("click", "--repeat", 8 if page else 60, 5 if page else 4)  # the wheel
    yield DRAWN


def rows(along):
    """Places down the sidebar as it is scrolled now."""
    side = region("UI")
    return [(side.x + (side.width - 24) * along, y)
            for y in range(side.y + side.height - 14, side.y + 8, -ROW)]


def rest(x, y):
    """Put the pointer where Blender is to know it."""
    move(x, y)
    # Twice, since Blender calls us before it looks at what came in meanwhile.
    yield 0.03
    yield 0.03


def press(what, along=0.5):
    """Find a button in the sidebar and click it."""
    yield from click(*(yield from find(what, along)))


def drag(share):
    """Drag what is under the pointer to the side, by a share of the sidebar's width."""
    way = region("UI").width * share
    xdotool("mousedown", 1)
    for _ in range(10):
        xdotool("mousemove_relative", "--", round(way / 10), 0)
        yield 0.1
    xdotool("mouseup", 1)
    yield from settle()


def below(rows):
    """Click some rows below the pointer."""
    xdotool("mousemove_relative", "--", 0, rows * UNIT)
    yield 0.2
    xdotool("click", 1)
    yield from settle()


def expect(what, true, seconds=20):
    """Wait until true() is true, which is a mistake named `what` where it takes too long."""
    end = time.time() + seconds
    while not true():
        assert time.time() < end, f"{what}: not so after {seconds} s"
        yield 0.2


def picture(path, whole=False, park=True, inside="VIEW_3D"):
    """Take a picture of the sidebar and of the sculpt beside it, or of the whole window.

    park: put the pointer aside first, so that no tooltip shows. inside: the area to show."""
    if park:
        move(8, 8)
    yield DRAWN
    for each in window().screen.areas:
        each.tag_redraw()
    yield DRAWN
    view = area(inside)
    right, top = view.x + view.width, window().height - view.y - view.height
    wide = window().width if whole else min(WIDE, right)
    crop = wide, window().height - top, max(right - wide, 0), top
    subprocess.run(["import", "-window", "root", "-crop", "{}x{}+{}+{}".format(*crop), "+repage",
                    str(path)], check=True)


def pixels(path):
    """The colours of a picture, an array (height, width, 3) from 0 to 1, its lowest row first."""
    image = bpy.data.images.load(str(path))
    values = np.empty(len(image.pixels), dtype=np.float32)
    image.pixels.foreach_get(values)
    high, wide = image.size[1], image.size[0]
    bpy.data.images.remove(image)
    return values.reshape(high, wide, -1)[:, :, :3]
