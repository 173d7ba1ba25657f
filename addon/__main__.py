"""python -m addon make INPUT --out DIR"""

import sys

from .command import main

if __name__ == "__main__":
    for stream in (sys.stdout, sys.stderr):
        stream.reconfigure(errors="replace")  # a console may lack the characters of a name
    sys.exit(main())
