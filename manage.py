#!/usr/bin/env python3
"""The one command of the house: makes the environment where it is missing, then runs a command in it.

``python3 manage.py demo`` starts the program with its demo laboratory, ``python3 manage.py test`` runs every test.
This file and labsys/bootstrap.py stay readable for old Pythons: they are what tells people which one is needed.
"""

import os
import sys


def main():
    """Prepare the environment, hand `test` to pytest, give everything else to Django."""
    from labsys import bootstrap

    bootstrap.prepare(sys.argv)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labsys.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
