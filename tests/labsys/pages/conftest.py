"""What the tests of pages share: the fonts, made once for the whole run because it takes seconds."""

from __future__ import annotations

import pytest

from labsys.pages import fonts


@pytest.fixture(scope="session")
def built_assets() -> None:
    """Have the fonts where the finder looks for them."""
    fonts.build()
