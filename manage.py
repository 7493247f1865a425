#!/usr/bin/env python3
"""The one command of the house: makes the environment where it is missing, then runs a command in it.

``python3 manage.py demo`` starts the program with its demo laboratory, ``python3 manage.py test`` runs every test.
This file stays readable for the oldest Python, because it is what tells people which one is needed.
"""

import os
import sys

if os.name != "posix":
    sys.exit("labsys runs on Linux and macOS; this is %s. Use one of them, or the containers." % sys.platform)
if sys.version_info < (3, 11):
    found = "%d.%d" % sys.version_info[:2]
    sys.exit("labsys needs Python 3.11 or newer; this is %s. Start it as: python3.11 manage.py" % found)

if __name__ == "__main__":
    from labsys import bootstrap

    bootstrap.prepare(sys.argv)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labsys.settings")
    from django.core.management import execute_from_command_line

    from labsys.env import BadEnvironment

    try:
        execute_from_command_line(sys.argv)
    except BadEnvironment as problem:
        sys.exit(str(problem))
