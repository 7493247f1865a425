"""The laboratory's own hand in a test that plays tablets: opens sessions, says what is stored, ends sign-ins.

Runs as one process beside a running stack, because starting the program anew costs more than a whole run of faults.
``Clerk`` asks; ``serve`` answers inside ``manage.py shell``, one line of JSON each way.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Self

from tests.stack import ROOT, Stack

_PROGRAM = "from tests.faults.clerk import serve; serve()"


@dataclass
class Clerk:
    """The asking side."""

    process: subprocess.Popen[str]

    @classmethod
    def of(cls, stack: Stack) -> Self:
        """Start one on a stack's records."""
        return cls(
            subprocess.Popen(
                [sys.executable, "manage.py", "shell", "--no-imports", "-c", _PROGRAM],
                cwd=ROOT,
                env=stack.environment(),
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                text=True,
            )
        )

    def ask(self, what: str, **given: Any) -> Any:
        """Have something done and give the answer."""
        assert self.process.stdin is not None and self.process.stdout is not None
        print(json.dumps([what, given]), file=self.process.stdin, flush=True)
        answer = self.process.stdout.readline()
        assert answer, "the clerk has ended; its last words are above"
        return json.loads(answer)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        assert self.process.stdin is not None
        self.process.stdin.close()
        self.process.wait(20)


def serve() -> None:
    """Answer until nobody asks any more."""
    for line in sys.stdin:
        what, given = json.loads(line)
        print(json.dumps(_ACTS[what](**given)), flush=True)  # noqa: T201


def _open(tag: str, leave: int | None) -> dict[str, Any]:
    """Open a session on a gauge up to its first point; with a number, read all but the last ``leave`` points."""
    from django.utils import timezone

    from instruments.inventory.models import Gauge
    from instruments.measuring.models import Session
    from instruments.measuring.operations import open_session, void_session
    from labsys.accounts.models import Person
    from labsys.laboratory.models import Place

    gauge = Gauge.objects.get(tag__text=tag)
    by, place = Person.objects.get(username="technician"), Place.objects.filter(is_laboratory=True)[0]
    for other in Session.objects.filter(gauge=gauge).exclude(state__in=("void", "approved")):
        void_session(session=other, reason="another run", by=by, now=timezone.now())
    now = timezone.now()
    player = _player(open_session(gauge=gauge, place=place, by=by, now=now), by)
    player.begin()
    points = player.points()
    for point in points[: len(points) - leave] if leave is not None else ():
        player.read(point, f"{point.nominal_mm.normalize():f}")
    # Only points that show a length are typed at: the demo's gauges read in millimetres.
    shown = {point.pk: f"{point.nominal_mm.normalize():f}" for point in points}
    return {"session": player.session.pk, "points": shown, "step": f"{gauge.model.resolution.normalize():f}"}


def _player(session: Any, by: Any) -> Any:
    """Give somebody who types everything at this moment, not minutes apart."""
    from datetime import timedelta

    from django.utils import timezone

    from tests.bench import Player

    class AtOnce(Player):
        def send(self, what: str, /, client_id: str | None = None, **text: Any) -> Any:
            self.now = timezone.now() - timedelta(minutes=1)
            return super().send(what, client_id, **text)

    return AtOnce(session, by, timezone.now())


def _stored(session: int) -> dict[str, Any]:
    """Say what a session holds from tablets, in the order in which it became what it is, and what lies aside."""
    from instruments.measuring.arriving import unsettled
    from instruments.measuring.models import Arrival, Reading, SetAside, ZeroCheck

    def of(row: Reading | ZeroCheck, point: int | None) -> list[Any]:
        arrival = row.arrival
        return [arrival.device, arrival.n, point, row.raw]

    readings = Reading.objects.filter(arrival__session=session, arrival__n__isnull=False)
    zeros = ZeroCheck.objects.filter(arrival__session=session, arrival__n__isnull=False)
    rows = [of(row, row.point_id) for row in readings.select_related("arrival").order_by("pk")]
    rows += [of(row, None) for row in zeros.select_related("arrival").order_by("pk")]
    by_hand = Arrival.objects.filter(session=session, n=None).exclude(client_id__startswith=f"{session}-")
    return {
        "rows": rows,
        "by_hand": list(by_hand.values_list("text", flat=True)),
        "kept": Arrival.objects.filter(session=session, n__isnull=False).count(),
        "unsettled": unsettled().filter(session=session).count(),
        "aside": list(SetAside.objects.filter(arrival__session=session).values_list("sentence", flat=True)),
    }


def _sign_out() -> int:
    """End every sign-in."""
    from django.contrib.sessions.models import Session

    return Session.objects.all().delete()[0]


def _close(session: int) -> str:
    """Void a session that was not handed in; gives its state."""
    from django.utils import timezone

    from instruments.measuring.models import Session
    from instruments.measuring.operations import void_session
    from labsys.accounts.models import Person

    found = Session.objects.get(pk=session)
    if found.state == Session.State.OPEN:
        by = Person.objects.get(username="technician")
        found = void_session(session=found, reason="end of a run", by=by, now=timezone.now())
    return str(found.state)


_ACTS: dict[str, Callable[..., Any]] = {
    "open": _open,
    "stored": _stored,
    "sign_out": _sign_out,
    "close": _close,
}
