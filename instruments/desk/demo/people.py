"""Who works in the demo laboratory. Named by their role; the passwords are public and good for nothing else."""

from __future__ import annotations

from dataclasses import dataclass

from labsys.journal.roles import Role


@dataclass(frozen=True)
class DemoPerson:
    """Somebody to sign in as, and the moment that shows what the program does for them."""

    username: str
    name: str
    role: Role
    moment: str

    @property
    def password(self) -> str:
        """The password, long enough for the rule and easy to type."""
        return f"{self.username}-of-the-demo"


PEOPLE = (
    DemoPerson("manager", "Laboratory manager", Role.MANAGER, "what falls due, what is late and why"),
    DemoPerson("technician", "Technician", Role.TECHNICIAN, "the gauges on the bench, next first"),
    DemoPerson("reviewer", "Reviewer", Role.REVIEWER, "what waits for a signature"),
    DemoPerson("custodian", "Custodian, shaft cell", Role.FLOOR, "the gauges in their own keeping"),
    DemoPerson("auditor", "Auditor", Role.AUDITOR, "from one certificate to the national institute"),
    DemoPerson("administrator", "Administrator", Role.ADMINISTRATOR, "people, roles, places"),
)
