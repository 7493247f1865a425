"""Who may plan, receive, hold, restrict and release gauges."""

from __future__ import annotations

from labsys.journal.roles import Role, permission

PLAN_RECALL = permission("plan_recall", "Call gauges in, assign intervals, extend due dates", Role.MANAGER)
RECEIVE_GAUGES = permission(
    "receive_gauges", "Receive gauges in the laboratory and give them back", Role.MANAGER, Role.TECHNICIAN
)
HOLD_GAUGES = permission("hold_gauges", "Put gauges on hold", Role.MANAGER, Role.TECHNICIAN, Role.REVIEWER)
RELEASE_GAUGES = permission(
    "release_gauges", "Lift holds, restrict the use of gauges", Role.MANAGER, Role.REVIEWER
)
RECEIVE_OUTSIDE = permission(
    "receive_outside_certificates",
    "Receive certificates of outside laboratories for gauges",
    Role.MANAGER,
    Role.TECHNICIAN,
    Role.REVIEWER,
)
ACCEPT_OUTSIDE = permission(
    "accept_outside_certificates",
    "Accept or reject certificates of outside laboratories for gauges",
    Role.MANAGER,
    Role.REVIEWER,
)
USE_GAUGES = permission(
    "use_gauges",
    "Report damage, record checks before use, hand gauges over",
    *(role for role in Role if role is not Role.AUDITOR),
)
PRINT_LABELS = permission("print_labels", "Print labels of gauges", Role.MANAGER, Role.TECHNICIAN)
