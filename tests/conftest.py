"""Fixtures every test may ask for. People and gauges come from the topics' own conftest files."""

from __future__ import annotations
