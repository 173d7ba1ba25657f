"""Steps of the window test after the marking: whether it fits, how it comes out, how it is built.

As those of window_steps.py: generators that take the folder of the run.
"""

import bpy
import window_hands as hands
import window_ways as ways


def fit(folder):
    """Check the fit on the body of the example, and see the air between foam and body on the
    sculpt. A figure is added by its button, and taken away again by one undo."""
    yield from ways.open_file(folder / "ferry_warden.blend")
    yield from ways.open_panel("FOAMWRIGHT_PT_fit")
    count = len(bpy.context.scene.objects)
    yield from hands.press("foamwright.add_figure(", 0.75)
    yield from hands.expect("a figure is there",
                            lambda: len(bpy.context.scene.objects) == count + 1)
    yield from ways.undo()
    yield from hands.expect("it is gone", lambda: len(bpy.context.scene.objects) == count)
    group = bpy.context.scene.foamwright  # only now, since undo replaces it
    yield from hands.press("foamwright.check_fit(")
    yield from hands.expect("the fit is known", lambda: group.fit.found, ways.LONG)
    assert group.overlay_shows == "FIT" and len(group.fit.pieces) == ways.PIECES
    yield from ways.answered()
    yield from _is_tinted(folder, "fit")


def _is_tinted(folder, name):
    """Take a picture of a map, with its panel beside it; without the map much looks otherwise."""
    group = bpy.context.scene.foamwright
    shows = group.overlay_shows
    yield from hands.picture(folder / f"{name}.png")
    with_map = hands.pixels(folder / f"{name}.png")[:, :700]  # beside the sidebar
    for other in ("PIECES", "LINES"):
        group.overlay_shows = other
        yield from hands.picture(folder / "other.png")
        share = (abs(with_map - hands.pixels(folder / "other.png")[:, :700]).max(axis=2) > 0.1)
        assert share.mean() > 0.03, f"beside {other} the map changes {share.mean():.1%} of the view"
    group.overlay_shows = shows


def trial(folder):
    """Try the build in thought, quickly, and see on the sculpt where it comes out otherwise."""
    yield from ways.open_file(folder / "ferry_warden.blend")
    group = bpy.context.scene.foamwright
    yield from ways.open_panel("FOAMWRIGHT_PT_trial")
    yield from hands.press("foamwright.trial.quick ", 0.75)
    yield from hands.press("foamwright.try_build(", 0.25)
    yield from hands.expect("the build was tried", lambda: group.trial.found, ways.LONG)
    assert len(group.trial.pieces) == ways.PIECES - 1  # the emblem follows its base
    assert 0 < group.trial.rms < group.trial.most
    yield from ways.answered()
    yield from hands.find("foamwright.try_build(", 0.25)
    yield from _is_tinted(folder, "trial")


def build_steps(folder):
    """Look at the build; go back a step with the button, drag the slider towards the first step,
    take the parts apart, click a step of the list, and go back to the sculpt."""
    yield from ways.open_file(folder / "ferry_warden.blend")
    shown = [item.name for item in bpy.context.scene.objects if item.visible_get()]
    manager = bpy.context.window_manager
    yield from ways.open_panel("FOAMWRIGHT_PT_build")
    yield from hands.press("foamwright.show_build(")
    steps = lambda: len(manager.foamwright_steps)  # noqa: E731
    yield from hands.expect("the build is shown", lambda: steps() > 20, ways.LONG)
    last = steps()
    assert manager.foamwright_step == last
    assert not bpy.data.objects["Breast plate"].visible_get(), "the sculpt is still shown"
    yield from hands.press("foamwright.go_to_step(", 0.075)
    yield from hands.expect("one step back", lambda: manager.foamwright_step == last - 1)
    yield from hands.find("foamwright_step ")
    yield from hands.drag(-0.22)
    yield from hands.expect("further back", lambda: 1 <= manager.foamwright_step < last - 5)
    half = manager.foamwright_step
    yield from hands.picture(folder / "build_half.png")
    manager.foamwright_step = last
    yield from hands.find("foamwright_apart ")
    yield from hands.drag(0.3)
    yield from hands.expect("parts stand apart", lambda: manager.foamwright_apart > 0)
    yield from hands.picture(folder / "build_apart.png")
    yield from hands.find("foamwright_apart ")
    yield from hands.below(6)  # the list shows the step that is looked at; another row of it
    yield from hands.expect("the list jumps", lambda: manager.foamwright_step != last)
    assert manager.foamwright_step != half or half == manager.foamwright_step_row + 1
    yield from hands.press("foamwright.leave_build(")
    yield from hands.expect("back", lambda: bpy.data.objects["Breast plate"].visible_get())
    now = [item.name for item in bpy.context.scene.objects if item.visible_get()]
    assert now == shown, set(now) ^ set(shown)
