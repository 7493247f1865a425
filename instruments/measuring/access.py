"""Who may measure and who may review. Which families, and until when, authorisations say."""

from __future__ import annotations

from labsys.journal.roles import Role, permission

MEASURE = permission("measure", "Open sessions and enter readings", Role.TECHNICIAN)
REVIEW = permission("review", "Review submissions: approve, return, accept deviations", Role.REVIEWER)
