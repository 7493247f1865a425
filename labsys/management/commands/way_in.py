"""``manage.py way_in``: a way in for somebody, where nobody who manages people can make one on the pages."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.urls import reverse
from django.utils import timezone

from labsys.accounts.models import Person
from labsys.accounts.operations import offer_way_in
from labsys.errors import LabError
from labsys.journal.door import Actor

BY = Actor("job:way-in", "way in command", "job")


class Command(BaseCommand):
    """Makes the address and prints it once; the act stands in the journal with its reason."""

    help = "Print an address on which a person chooses a new password: good once, within a day."

    def add_arguments(self, parser: CommandParser) -> None:
        """Name whom and why."""
        parser.add_argument("username")
        parser.add_argument("--reason", required=True, help="why; it stands in the journal")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Make the way in; refuses for somebody unknown and for a closed account."""
        person = Person.objects.filter(username=options["username"].strip().lower()).first()
        if person is None:
            raise CommandError(f"Nobody has the user name {options['username']!r}. Look under Lab, People.")
        try:
            made = offer_way_in(
                person=person, lock=False, reason=options["reason"], by=BY, now=timezone.now()
            )
        except LabError as refusal:
            raise CommandError(str(refusal)) from refusal
        key = {"uidb36": made.uid, "key": made.token}
        self.stdout.write(f"{settings.SITE_URL}{reverse('account_reset_password_from_key', kwargs=key)}")
