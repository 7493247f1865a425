"""Settings of a test run: the program's own, in a folder of its own, with faster passwords and queries counted."""

from __future__ import annotations

import os
import tempfile

os.environ.setdefault("LABSYS_VAR", tempfile.mkdtemp(prefix="labsys-tests-"))
os.environ.setdefault("LABSYS_SECRET_KEY", "a key for tests, never for a laboratory's own records")

from labsys.settings import *  # noqa: F403
from labsys.settings import DATABASES, INSTALLED_APPS, MIDDLEWARE, VAR

# A page that asks once per row is an error, not a surprise in production.
INSTALLED_APPS = [*INSTALLED_APPS, "zeal"]
MIDDLEWARE = ["zeal.middleware.zeal_middleware", *MIDDLEWARE]
ZEAL_RAISE = True
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
WHITENOISE_AUTOREFRESH = True
# A file, not memory: tests with a second connection see what a second process sees.
if "sqlite3" in DATABASES["default"]["ENGINE"]:
    DATABASES["default"]["TEST"] = {"NAME": VAR / "tests.sqlite3"}
