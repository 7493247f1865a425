"""Tests, mirroring the source topic by topic."""
