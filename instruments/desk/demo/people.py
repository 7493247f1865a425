"""Who works in the demo laboratory. Named by their role; the passwords are public and good for nothing else."""

from __future__ import annotations

from dataclasses import dataclass

from labsys.accounts.models import Activity
from labsys.journal.roles import Role


@dataclass(frozen=True)
class DemoPerson:
    """Somebody to sign in as, and the moment that shows what the program does for them."""

    username: str
    name: str
    role: Role
    moment: str
    department: str = ""
    activities: tuple[Activity, ...] = ()

    @property
    def password(self) -> str:
        """The password, long enough for the rule and easy to type."""
        return f"{self.username}-of-the-demo"


PEOPLE = (
    DemoPerson("manager", "Laboratory manager", Role.MANAGER, "what falls due, what is late and why"),
    DemoPerson(
        "technician",
        "Technician",
        Role.TECHNICIAN,
        "the gauges on the bench, next first",
        activities=(Activity.MEASURE,),
    ),
    DemoPerson(
        "technician-2",
        "Second technician",
        Role.TECHNICIAN,
        "the same bench, the other hand",
        activities=(Activity.MEASURE,),
    ),
    DemoPerson(
        "reviewer",
        "Reviewer",
        Role.REVIEWER,
        "what waits for a signature",
        activities=(Activity.REVIEW, Activity.AUTHORISE, Activity.APPROVE_PROCEDURES),
    ),
    DemoPerson("custodian", "Custodian, shafts", Role.FLOOR, "the gauges in their own keeping", "SH"),
    DemoPerson("custodian-housings", "Custodian, housings", Role.FLOOR, "the housings' gauges", "HS"),
    DemoPerson("custodian-assembly", "Custodian, assembly", Role.FLOOR, "the assembly's gauges", "AS"),
    DemoPerson("custodian-receiving", "Custodian, receiving", Role.FLOOR, "receiving's gauges", "RI"),
    DemoPerson("auditor", "Auditor", Role.AUDITOR, "from one certificate to the national institute"),
    DemoPerson("administrator", "Administrator", Role.ADMINISTRATOR, "people, roles, places"),
)
