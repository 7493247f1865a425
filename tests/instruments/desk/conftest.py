"""The plant of the inventory's tests, and a browser for every role."""

from __future__ import annotations

from tests.instruments.inventory.conftest import *  # noqa: F403 - the same plant
