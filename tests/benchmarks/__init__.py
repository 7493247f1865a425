"""Ratios and memory held to budgets, each file run by naming it; never collected with the other tests."""
