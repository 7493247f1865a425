"""Comparisons between laboratories: scores against a reference value, and a reference value from the results.

Lives here: E_n and zeta, the weighted mean with its consistency check, the largest consistent subset. May not live
here: the organisation of a round, charts of one laboratory's own checks.

Values and uncertainties may have any one unit.
"""
