"""Sign-off, numbering, rendering, issue and public verification of calibration certificates."""
