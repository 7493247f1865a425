"""``manage.py verify_journal``: walks the whole chain of the journal and says whether it holds."""

from __future__ import annotations

import re
from argparse import ArgumentTypeError
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from labsys.journal.operations import ChainBroken
from labsys.journal.queries import verify_chain

_NOTED = re.compile(r"(\d+):([0-9a-f]{64})")


def noted(text: str) -> tuple[int, str]:
    """Read ``number:hash`` as it was noted outside the database."""
    match = _NOTED.fullmatch(text.strip().lower())
    if match is None:
        raise ArgumentTypeError(
            f"expected an entry's number, a colon and its hash of 64 hexadecimal digits, found {text!r}"
        )
    return int(match[1]), match[2]


class Command(BaseCommand):
    """Walks the chain and changes nothing, so a restored copy or a database open for reading alone will do."""

    help = "Walk the chain of the journal: prints how many entries it has and the hash of the last; code 1 on a fault."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the note to hold the chain against."""
        parser.add_argument(
            "--noted",
            type=noted,
            metavar="NUMBER:HASH",
            help="an entry and its hash as noted earlier, outside the database",
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        """Walk, and say what was found."""
        report = verify_chain(known=options["noted"])
        if report.fault:
            raise CommandError(str(ChainBroken(fault=report.fault)), returncode=1)
        self.stdout.write(f"{report.entries} entries hold together. Note this elsewhere:")
        self.stdout.write(f"{report.entries}:{report.head_hash}")
