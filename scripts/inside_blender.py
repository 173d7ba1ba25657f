"""Run pytest inside Blender: blender --background --python inside_blender.py -- PACKAGES [ARGS].

scripts/test.py --blender starts this; PACKAGES is the folder with the test tools.
"""

import os
import sys

packages, *arguments = sys.argv[sys.argv.index("--") + 1:]
# Last, so that what Blender brings itself wins; for child processes too.
sys.path.append(packages)
os.environ["PYTHONPATH"] = packages

import pytest  # noqa: E402

code = pytest.main(arguments)
sys.stdout.flush()
sys.stderr.flush()
# Blender would turn SystemExit into a code of its own.
os._exit(int(code))
