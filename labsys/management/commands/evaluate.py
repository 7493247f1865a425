"""``manage.py evaluate``: answers files of questions to the arithmetic, and compares with what they expect."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from labsys.errors import LabError
from labsys.metrology.questions.asking import KINDS, answer_file, disagreements, form_of, parse_file


class Command(BaseCommand):
    """Prints the answers as JSON; ends with 1 where a file expects something else than was found."""

    help = "Answer questions to the arithmetic, from files or folders of them; - reads standard input."
    requires_system_checks: tuple[str, ...] = ()

    def add_arguments(self, parser: CommandParser) -> None:
        """Name the files."""
        parser.add_argument("files", nargs="*", metavar="FILE", help="a file, a folder of files, or -")
        parser.add_argument(
            "--brief", action="store_true", help="one line for each expected value instead of the answers"
        )

        parser.add_argument("--forms", action="store_true", help="print the form of every kind of question")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Answer every file; a wrong one gets a sentence naming the place, after the others were answered."""
        if options["forms"]:
            self.stdout.write("\n\n".join(form_of(kind) for kind in sorted(KINDS)))
            return
        if not options["files"]:
            raise CommandError(
                "Expected a file, a folder or - for standard input. --forms prints what one holds."
            )
        answered, faults = [], []
        for name in _each(options["files"]):
            try:
                answered.append({"file": name, **answer_file(_read(name))})
            except OSError as fault:
                faults.append(f"{name}: {fault.strerror}")
            except (LabError, UnicodeDecodeError) as fault:
                faults.append(f"{name}: {fault}")
        self._say(answered, is_brief=options["brief"])
        differing = sum(len(disagreements(one)) for one in answered)
        if differing:
            faults.append(f"{differing} of the expected values differ from what was found.")
        if faults:
            raise CommandError("\n".join(faults))

    def _say(self, answered: list[dict[str, Any]], *, is_brief: bool) -> None:
        if not is_brief:
            self.stdout.write(json.dumps(answered, ensure_ascii=False, indent=2))
            return
        for file in answered:
            for one in file["answers"]:
                for compared in one["compared"]:
                    word = "agrees" if compared["agrees"] else "DIFFERS"
                    self.stdout.write(
                        f"{word}  {file['file']}  {one['name']}  {compared['quantity']}: "
                        f"expected {compared['printed']}, found {compared['found']}"
                    )


def _each(names: list[str]) -> list[str]:
    """List the files; a folder stands for the JSON files in it."""
    found: list[str] = []
    for name in names:
        path = Path(name)
        is_folder = name != "-" and path.is_dir()
        found.extend(sorted(map(str, path.glob("*.json"))) if is_folder else [name])
    return found


def _read(name: str) -> object:
    return parse_file(sys.stdin.read() if name == "-" else Path(name).read_text(encoding="utf-8"))
