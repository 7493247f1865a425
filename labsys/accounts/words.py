"""What roles are for, in words. What each may do, permission by permission, stands in the database."""

from __future__ import annotations

from labsys.journal.roles import Role

ROLE_SAYS: dict[Role, str] = {
    Role.MANAGER: "plans the weeks, calls gauges in, sets intervals, agrees with departments, manages people",
    Role.TECHNICIAN: "receives, measures, hands in",
    Role.REVIEWER: "reviews what others measured, signs certificates, approves procedures",
    Role.FLOOR: "keeps gauges on the shop floor: checks, reports damage, hands over",
    Role.AUDITOR: "reads everything, changes nothing",
    Role.ADMINISTRATOR: "manages people and the program's run",
}
