"""Procedures: what is in force, what a draft may say, which points a gauge gets."""
