"""Tests of reminders: who is told what, once."""
