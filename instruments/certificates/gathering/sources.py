"""What all parts of a certificate are read from, fetched once: the session with its runs, results and content."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from django.db.models import QuerySet

from instruments.inventory.models import CustodyEvent, GaugeModel
from instruments.measuring.basis import Basis
from instruments.measuring.models import Reading, Result, Run, Session, Submission
from instruments.measuring.queries import Outcome, outcome_of
from instruments.procedures.content import Content
from instruments.procedures.queries import content_of


@dataclass(frozen=True)
class Sources:
    """A submission and everything around it; each property asks the database once."""

    submission: Submission

    @cached_property
    def session(self) -> Session:
        """The session with gauge, model, agreement, revision and place."""
        return Session.objects.select_related(
            "gauge__tag",
            "gauge__model__family",
            "gauge__department",
            "agreement",
            "revision__procedure",
            "place",
        ).get(pk=self.submission.session_id)

    @cached_property
    def model(self) -> GaugeModel:
        """The gauge's model."""
        return self.session.gauge.model

    @cached_property
    def content(self) -> Content:
        """What the procedure's revision says."""
        return content_of(self.session.revision)

    @cached_property
    def basis(self) -> Basis:
        """Limits and rule as frozen when the session opened."""
        return Basis.load(self.session.basis)

    @cached_property
    def outcome(self) -> Outcome:
        """The verdicts rolled up."""
        return outcome_of(self.submission)

    @cached_property
    def runs(self) -> tuple[Run, ...]:
        """The first run and, after an adjustment, the last: what was found and what was left."""
        rows = list(
            self.session.runs.order_by("opened_at", "pk").prefetch_related(
                "conditions__sensor__tag", "conditions__span", "zero_checks", "checks"
            )
        )
        return (rows[0],) if len(rows) == 1 else (rows[0], rows[-1])

    @cached_property
    def runs_between(self) -> int:
        """How many runs lie between the first and the last; they stay in the record."""
        return max(0, self.session.runs.count() - 2)

    @cached_property
    def results(self) -> tuple[Result, ...]:
        """The results of those runs, in the order they were evaluated."""
        rows = self.submission.results.filter(run__in=self.runs).select_related("reading").order_by("pk")
        return tuple(rows.prefetch_related("points__references__element_value__element__standard__tag"))

    @cached_property
    def readings(self) -> QuerySet[Reading]:
        """Every reading of the session, struck ones too."""
        return Reading.objects.filter(point__run__session=self.session)

    @cached_property
    def reading_times(self) -> dict[int, tuple[datetime, datetime]]:
        """First and last measured instant of each run that has readings."""
        found: dict[int, list[datetime]] = {}
        for run_id, at in self.readings.values_list("point__run_id", "measured_at"):
            found.setdefault(run_id, []).append(at)
        return {run_id: (min(times), max(times)) for run_id, times in found.items()}

    @cached_property
    def receipt(self) -> CustodyEvent | None:
        """The event by which the gauge came to the laboratory for this session."""
        events = CustodyEvent.objects.filter(gauge=self.session.gauge, kind=CustodyEvent.Kind.RECEIVED)
        return events.filter(at=self.session.received_at).order_by("-pk").first()

    def span(self, run: Run) -> tuple[datetime, datetime]:
        """Give when a run was measured; a run without readings lasted no longer than its opening."""
        return self.reading_times.get(run.pk, (run.opened_at, run.opened_at))
