"""Settings of a test run: the program's own, in a folder of its own that is gone afterwards.

Nothing of the person's environment is taken but the services to test against, so a laboratory's own records
can't be reached from here.
"""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
from pathlib import Path

from labsys import env

_SERVICES = {"DATABASE_URL", "REDIS_URL"}
for _variable in env.VARIABLES:
    if _variable.name not in _SERVICES:
        os.environ.pop(_variable.name, None)
# One Redis database serves one running laboratory: side by side each process takes the next one.
_worker, _redis = os.environ.get("PYTEST_XDIST_WORKER", ""), os.environ.get("REDIS_URL", "")
if _worker and _redis and os.environ.get("REDIS_TAKEN_BY") != _worker:
    _server, _, _number = _redis.rpartition("/")
    os.environ["REDIS_URL"] = f"{_server}/{int(_number) + int(_worker.removeprefix('gw'))}"
    os.environ["REDIS_TAKEN_BY"] = _worker
_folder = Path(tempfile.mkdtemp(prefix="labsys-tests-"))
atexit.register(shutil.rmtree, _folder, ignore_errors=True)
os.environ["LABSYS_VAR"] = str(_folder)
os.environ["LABSYS_SECRET_KEY"] = "a key for tests, never for a laboratory's own records"

from labsys.settings import *  # noqa: E402, F403
from labsys.settings import CELERY, DATABASES, INSTALLED_APPS, MIDDLEWARE  # noqa: E402

# A page that asks once per row is an error here, not a surprise in a laboratory.
INSTALLED_APPS = [*INSTALLED_APPS, "zeal"]
MIDDLEWARE = ["zeal.middleware.zeal_middleware", *MIDDLEWARE]
ZEAL_RAISE = True
# A request may look its own sign-in up again after it was changed; that is no question per row.
ZEAL_ALLOWLIST = [{"model": "sessions.Session"}]

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
# Counts of failed log-ins would carry over from test to test; the test of the limits turns them on.
ACCOUNT_RATE_LIMITS = False
# A wake-up call goes nowhere: tests call what it would wake. Real brokers serve the tests of the whole stack.
CELERY = {**CELERY, "broker_url": "memory://", "broker_transport_options": {}}
# A file, not memory: a second connection sees what a second process would.
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["TEST"] = {"NAME": _folder / "tests.sqlite3"}
