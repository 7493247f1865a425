"""The first step: makes the environment that everything else runs in.

Standard library only, and nothing newer than Python 3.4 in its syntax. Nothing of Django may be imported here.
"""

import os
import sys


def prepare(argv):
    """Run the tests when asked to; otherwise return and let the command run."""
    if len(argv) > 1 and argv[1] == "test":
        os.execv(sys.executable, [sys.executable, "-m", "pytest"] + argv[2:])
