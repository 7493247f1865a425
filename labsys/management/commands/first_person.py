"""``manage.py first_person``: the administrator of an empty laboratory, who enters everybody else on the pages."""

from __future__ import annotations

import getpass
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from labsys.accounts.models import Person
from labsys.accounts.operations import register_person
from labsys.journal.door import Actor
from labsys.journal.roles import Role

SET_UP = Actor("job:first-person", "first person command", "job")


class Command(BaseCommand):
    """Asks for name and password and registers the first administrator."""

    help = "Register the administrator of an empty laboratory; everybody else is entered on the pages."

    def add_arguments(self, parser: CommandParser) -> None:
        """Name what is asked for otherwise."""
        parser.add_argument("username")
        parser.add_argument("--name", required=True, help="the name as printed")
        parser.add_argument("--email", default="")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Register the person; refuses where somebody has an account already."""
        if Person.objects.exists():
            raise CommandError(
                "People have accounts here already. An administrator enters further ones under Lab."
            )
        password = self._password()
        try:
            person = register_person(
                username=options["username"],
                name=options["name"],
                email=options["email"],
                password=password,
                roles=(Role.ADMINISTRATOR, Role.MANAGER),
                department=None,
                by=SET_UP,
                now=timezone.now(),
            )
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        self.stdout.write(f"{person.name} may sign in as {person.username}, as administrator and manager.")

    def _password(self) -> str:
        """Ask twice; the rule of length is the same as on the pages."""
        first = getpass.getpass("Password (12 characters or more): ")
        if first != getpass.getpass("The same again: "):
            raise CommandError("The two passwords differ, so nobody was registered. Start again.")
        try:
            validate_password(first)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        return first
