"""Owed work and messages."""
