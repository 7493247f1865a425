"""Kills, races and lost connections."""
