"""Whole jobs, in plain sentences, through the acts and the pages."""
