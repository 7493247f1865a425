"""Least squares for the bench: calibration curves and their inverse use, drift, the periodic error of a scale.

Lives here: fits that are linear in their coefficients, with covariance, residual spread and intervals. May not live
here: recalibration intervals and their policies, checks against a baseline (charts), gauge studies.

Values may have any unit; coefficients and intervals come out in the same.
"""
