"""Calibration intervals: what a history of as-found outcomes says about the time until the next calibration.

Lives here: one module for each method (staircase, responses, interval test, reliability models, drift), the rules from
a computed to an assigned interval, due-date conventions. May not live here: tables, who accepts a proposal, a clock.
Times are months (a twelfth of a year, 30.436875 days) unless a name says otherwise.
"""
