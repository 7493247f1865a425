"""The arithmetic needs no framework: a fresh process reads all of it without one, and without the heavy libraries."""

from __future__ import annotations

import pkgutil
import subprocess
import sys

import labsys.metrology

UNWANTED = ("django", "celery", "rest_framework", "numpy", "scipy")


def test_every_module_is_read_without_a_framework() -> None:
    names = [found.name for found in pkgutil.walk_packages(labsys.metrology.__path__, "labsys.metrology.")]
    assert "labsys.metrology.decision" in names
    imports = "\n".join(f"import {name}" for name in names)
    program = f"import sys\n{imports}\nprint([name for name in {UNWANTED!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
