"""The bench: sessions, runs, readings, conditions, review; the bridge from readings to the numbers.

Readings arrive in two transactions: what arrived is stored first, by a step that can't refuse, and judged after.
"""
