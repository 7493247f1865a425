"""Tests of the room's log."""
