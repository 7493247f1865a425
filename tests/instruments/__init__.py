"""Tests of instruments, topic by topic."""
