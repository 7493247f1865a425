"""Tests of standards: the register and the chain."""
