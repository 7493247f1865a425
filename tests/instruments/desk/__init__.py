"""Tests of the pages that span topics, and of the demo laboratory."""
