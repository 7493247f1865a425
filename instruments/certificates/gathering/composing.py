"""The whole document of one submission, with its number, its signers and its sentences."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import ClassVar

from django.conf import settings

from instruments.certificates.document import FORMAT, Document, words
from instruments.certificates.document import parts as p
from instruments.certificates.document import results as r
from instruments.certificates.document.conformity import state
from instruments.certificates.gathering import grounds, heads, lines
from instruments.certificates.gathering.sources import Sources
from instruments.measuring.models import Submission
from instruments.recall.queries import PASSING, interval_in_force
from labsys.accounts.models import Person
from labsys.errors import LabError
from labsys.laboratory.models import LaboratoryDetail
from labsys.laboratory.queries import details_in_force, local_date
from labsys.metrology import dates
from labsys.metrology.budget import Budget
from labsys.metrology.units import Quantity
from labsys.metrology.views import View


class NoLaboratoryDetails(LabError):
    """A certificate names its laboratory."""

    code: ClassVar[str] = "no-laboratory-details"
    sentence: ClassVar[str] = (
        "The laboratory's name and address are not recorded, and every certificate carries them. "
        "Record the laboratory's details first."
    )


@dataclass(frozen=True)
class Issue:
    """What signing off adds: who authorises and when, the due date that follows, code and address.

    ``due_on`` is None for a gauge that didn't pass. The number comes last, when everything else stands.
    """

    by: Person
    now: datetime
    due_on: date | None
    code: str = ""
    verification_url: str = ""


def compose(sources: Sources, issue: Issue) -> Document:
    """Give the document of a submission; raises NoLaboratoryDetails, ResultNotReproduced, and what a verdict raises."""
    details = details_in_force(issue.now)
    if details is None:
        raise NoLaboratoryDetails()
    judged = lines.judged_results(sources)
    sets = lines.stages(sources, judged)
    ground = grounds.agreement_ground(sources)
    session = sources.session
    signers = _signers(sources, issue)
    return Document(
        format=FORMAT,
        title=words.TITLE,
        number="",
        code=issue.code,
        verification_url=issue.verification_url,
        laboratory=heads.laboratory(details),
        place=session.place.name,
        place_is_laboratory=session.place.is_laboratory,
        customer=heads.customer(sources),
        item=heads.item(sources),
        receipt=heads.receipt(sources),
        calibrated_from=local_date(sources.span(sources.runs[0])[0]),
        calibrated_to=sources.outcome.calibrated_on,
        issued_on=local_date(issue.now),
        zone=settings.LAB_ZONE,
        method=heads.method(sources),
        conditions=heads.conditions(sources),
        standards=grounds.standards(sources),
        stages=sets,
        uncertainty=r.Uncertainty(words.U_BASIS, lines.coverage(judged)),
        statements=_statements(sources, details, signers, judged),
        signers=signers,
        conformity=state(sets, ground, _budgets(judged, ground.rule.view)),
        adjustments=grounds.adjustments(sources),
        as_found_missing=grounds.as_found_missing(sources),
        rejections=sources.outcome.rejections,
        deviations=grounds.deviations(sources),
        not_measured=_not_measured(sources),
        customer_data=grounds.customer_data(sources),
        remarks=grounds.remarks(sources),
        due=grounds.due(sources, issue.due_on, issue.now),
    )


def draft_of(submission: Submission, by: Person, now: datetime) -> Document:
    """Give the document as it would be signed by ``by`` at ``now``: without number, code and address."""
    sources = Sources(submission)
    months = interval_in_force(sources.session.gauge, now)
    passes = str(sources.outcome.as_left) in PASSING
    due_on = dates.due_on(sources.outcome.calibrated_on, months) if passes else None
    return compose(sources, Issue(by, now, due_on))


def _not_measured(sources: Sources) -> tuple[str, ...]:
    return tuple(words.function_word(name) for name in sources.outcome.unmeasured)


def _signers(sources: Sources, issue: Issue) -> tuple[p.Signer, ...]:
    """Name everybody who read the gauge, or handed the session in where nothing was read, and who authorises."""
    people: dict[int, Person] = {}
    rows = sources.readings.select_related("read_by").prefetch_related("read_by__groups")
    for reading in rows.order_by("measured_at", "pk"):
        people.setdefault(reading.read_by_id, reading.read_by)
    people = people or {sources.submission.submitted_by_id: sources.submission.submitted_by}
    at = sources.submission.submitted_at
    performed = [_signer(person, "performed", at) for person in people.values()]
    return (*performed, _signer(issue.by, "authorised", issue.now))


def _signer(person: Person, meaning: str, at: datetime) -> p.Signer:
    actor = person.as_actor()
    return p.Signer(actor.id, actor.name, actor.role, meaning, at)


def _budgets(judged: tuple[lines.Judged, ...], view: View) -> list[Budget]:
    """Give the budgets behind the verdicts, under the view that the rule names."""
    return [one.views.of(view) for one in judged if one.views is not None and one.decision is not None]


def _measurand(kinds: list[str], *, is_angle: bool) -> tuple[str, str]:
    """Say what the results are, kind by kind, and what a sign means."""
    if is_angle:
        others = [words.MEASURED[kind] for kind in words.MEASURED if kind in kinds and kind != "error"]
        return " ".join((words.ANGLE_MEASURAND, *others)), words.ANGLE_SIGN
    measured = [sentence for kind, sentence in words.MEASURED.items() if kind in kinds] or [words.MEASURAND]
    signs = [
        *([words.SIGN] if "error" in kinds else []),
        *([words.SIZE_SIGN] if "deviation" in kinds else []),
    ]
    return " ".join(measured), " ".join(signs) or words.NO_SIGN if kinds else words.SIGN


def _statements(
    sources: Sources,
    details: LaboratoryDetail,
    signers: tuple[p.Signer, ...],
    judged: tuple[lines.Judged, ...],
) -> p.Statements:
    is_angle = sources.model.quantity is Quantity.ANGLE
    measurand, sign = _measurand([one.result.kind for one in judged], is_angle=is_angle)
    return p.Statements(
        measurand=measurand,
        sign=sign,
        relates_only=words.RELATES_ONLY,
        reproduction=words.REPRODUCTION,
        traceability=words.ANGLE_TRACEABILITY if is_angle else words.TRACEABILITY,
        sets=_sets(sources),
        limited=_limited(_not_measured(sources)),
        one_signature=_one_signature(details, signers),
    )


def _sets(sources: Sources) -> str:
    if not sources.results:
        return words.NOTHING_MEASURED
    if missing := grounds.as_found_missing(sources):
        return missing
    return words.TWO_SETS if len(sources.runs) > 1 else words.ONE_SET


def _limited(functions: tuple[str, ...]) -> str:
    if not functions:
        return ""
    one = len(functions) == 1
    named = f"{words.listing(functions)} {'was' if one else 'were'}"
    return words.LIMITED.format(functions=named, it="it" if one else "them")


def _one_signature(details: LaboratoryDetail, signers: tuple[p.Signer, ...]) -> str:
    """Say the decision to work without a second signature, and whether this certificate made use of it."""
    if details.second_signature:
        return ""
    sentence = words.ONE_SIGNATURE.format(
        day=f"{local_date(details.valid_from):%Y-%m-%d}",
        who=details.decided_by,
        reason=details.reason.strip().rstrip("."),
    )
    performed = {signer.person for signer in signers if signer.meaning == "performed"}
    same = any(signer.person in performed for signer in signers if signer.meaning == "authorised")
    return f"{sentence} {words.SAME_PERSON}" if same else sentence
