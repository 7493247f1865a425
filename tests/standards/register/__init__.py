"""Tests of standards."""
