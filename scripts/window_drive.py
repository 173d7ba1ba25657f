"""Go through the steps of window_steps.py in a Blender that has a window.

window_test.py starts this inside Blender: blender --python window_drive.py -- FOLDER
[STEP ...]. The folder holds the extension's zip and the example scenes; pictures and results.json
are written to it.

A step is a generator. Wherever it yields, Blender goes on with its own work, handles what was
clicked and typed, and draws; after the seconds that were yielded the step goes on.
"""

import json
import os
import subprocess
import sys
import time
import traceback
from pathlib import Path

import bpy

sys.path.insert(0, str(Path(__file__).parent))
import window_hands as hands  # noqa: E402
import window_steps  # noqa: E402

ARGUMENTS = sys.argv[sys.argv.index("--") + 1:]
FOLDER, CHOSEN = Path(ARGUMENTS[0]), ARGUMENTS[1:]
SHORT = 0.15  # seconds: enough for Blender to handle an event and to draw


class Run:
    """The steps in their order, the one that runs, and what came of those before."""

    def __init__(self, steps):
        self.waiting = list(steps)
        self.current = None  # a generator
        self.results = []
        self.began = 0.0

    def tick(self):
        """Go on with the current step; returns the seconds until Blender calls this again."""
        try:
            if self.current is None:
                step = self.waiting.pop(0)
                print(f"[window] {step.__name__}", flush=True)
                self.began = time.time()
                self.results.append({"name": step.__name__, "does": step.__doc__.strip()})
                self.current = step(FOLDER)
            return next(self.current) or SHORT
        except StopIteration:
            self.note("passed")
        except Exception as error:
            traceback.print_exc()
            name = self.results[-1]["name"]
            subprocess.run(["import", "-window", "root", str(FOLDER / f"failed_{name}.png")],
                           check=False)
            self.note(f"failed: {error or type(error).__name__}")
            hands.xdotool("key", "Escape")  # ends what still waits for the maker
        self.current = None
        if self.waiting and (self.results[0]["outcome"] == "passed"):  # else nothing is installed
            return 1.0
        sys.stdout.flush()
        sys.stderr.flush()
        # Blender asks before it quits where a file was changed, and gives no exit code.
        os._exit(any(result["outcome"] != "passed" for result in self.results))

    def note(self, outcome):
        """Keep what came of the step that ends now; in the file too, should Blender crash."""
        self.results[-1].update(outcome=outcome, seconds=round(time.time() - self.began, 1))
        print("[window]   {outcome} after {seconds} s".format(**self.results[-1]), flush=True)
        record = {"versions": window_steps.versions(), "steps": self.results,
                  "left": [step.__name__ for step in self.waiting]}
        (FOLDER / "results.json").write_text(json.dumps(record, indent=1), "utf-8")


steps = [step for step in window_steps.STEPS
         if not CHOSEN or step is window_steps.install or step.__name__ in CHOSEN]
# At once, since the splash screen would take the first click.
bpy.context.preferences.view.show_splash = False
# Persistent: opening a file must not end the run.
bpy.app.timers.register(Run(steps).tick, first_interval=1.0, persistent=True)
