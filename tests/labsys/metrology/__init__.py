"""Tests of the arithmetic: published values first, a second method beside the first, then properties."""
