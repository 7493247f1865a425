"""The arithmetic of the laboratory: numbers and dates in, small frozen results out.

Lives here: units, errors of indication, uncertainty, decision rules, reporting, dates, zero and repeat rules,
planning rules. May not live here: Django, tables, a clock, chance of its own. Lengths are millimetres unless a
name says otherwise.
"""
