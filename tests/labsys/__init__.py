"""Tests of the site, topic by topic."""
