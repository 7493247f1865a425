"""Charts of checks: is the standard, or the bench, still what it was in its baseline?

Lives here: frozen limits, moving averages, run rules, tests of means and spreads, the check of a calibration line.
May not live here: what follows from a signal, comparisons between laboratories.

Values may have any unit; limits come out in the same.
"""
