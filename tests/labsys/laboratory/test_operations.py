"""Acts on the laboratory's facts and agreements, and their answers as of any day."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from labsys.accounts.models import Person
from labsys.journal.models import JournalEntry
from labsys.journal.reasons import NothingChanged, ReasonMissing
from labsys.journal.roles import NotAllowed
from labsys.laboratory.limit_rows import LimitRowFault
from labsys.laboratory.models import Agreement, Department, Family
from labsys.laboratory.operations import (
    AgreementTerms,
    DepartmentData,
    FamilyData,
    LimitsWithoutSource,
    NothingAgreed,
    PlaceData,
    TagTaken,
    add_department,
    add_family,
    add_place,
    agree,
    change_department,
    change_family,
    change_place,
    issue_tag,
    set_capacity,
    set_details,
    withdraw_agreement,
)
from labsys.laboratory.queries import (
    agreement_in_force,
    agreements_in_force,
    details_in_force,
    hours_per_week,
    start_of_day,
)
from labsys.metrology.decision import BadRule
from tests.labsys.conftest import SETUP, START

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)
SIMPLE = {"kind": "simple", "min_ratio": 4, "view": "test_value"}
GUARDED = {"kind": "guarded", "g": "1", "view": "calibration"}
LINE = {"function": "outside", "up_to_mm": "150", "lower_mm": "-0.03", "upper_mm": "0.03"}


@pytest.fixture
def shafts(db: None) -> Department:
    return add_department(code="SH", name="Shafts", contact="shop lead", by=SETUP, now=START)


@pytest.fixture
def calipers(db: None) -> Family:
    return add_family(
        code="caliper", name="Caliper", bench_hours=Decimal("0.75"), interval_months=12, by=SETUP, now=START
    )


@pytest.fixture
def settle(shafts: Department, calipers: Family) -> Callable[..., Agreement]:
    def make(at: Any = START, now: Any = None, **terms: Any) -> Agreement:
        return agree(
            department=shafts,
            family=calipers,
            terms=AgreementTerms(**{"rule": SIMPLE, **terms}),
            agreed_by="shop lead",
            valid_from=at,
            by=SETUP,
            now=now or at,
        )

    return make


def last() -> JournalEntry:
    return JournalEntry.objects.order_by("-sequence")[0]


def test_an_agreement_is_stored_as_verdicts_read_it(settle: Callable[..., Agreement]) -> None:
    row = settle(
        limit_rows=[{**LINE, "up_to_mm": "150.00", "upper_mm": "0.030"}],
        limits_source=" Drawing 4711 ",
        recipients=["a@pump-works.example", " ", "a@pump-works.example"],
    )
    assert row.rule == {"kind": "simple", "view": "test_value", "min_ratio": "4"}
    assert row.limit_rows == [
        {"function": "outside", "up_to_mm": "150", "lower_mm": "-0.03", "upper_mm": "0.03"}
    ]
    assert (row.limits_source, row.recipients) == ("Drawing 4711", ["a@pump-works.example"])
    after = last().after or {}
    assert (after["rule"], after["agreed_by"]) == (row.rule, "shop lead")


@pytest.mark.parametrize(
    ("terms", "refusal", "says"),
    [
        ({"rule": {"kind": "simple"}}, BadRule, "view"),
        ({"rule": {**GUARDED, "g": "-1"}}, BadRule, "zero or more"),
        ({"rule": {"kind": "specific_risk", "view": "calibration"}}, BadRule, "max_false_accept"),
        ({"limit_rows": [{**LINE, "upper_mm": "-1"}], "limits_source": "x"}, LimitRowFault, "must lie above"),
        ({"limit_rows": [LINE, LINE], "limits_source": "x"}, LimitRowFault, "another line"),
        ({"limit_rows": [LINE]}, LimitsWithoutSource, "where they come from"),
        ({"recipients": ["nobody"]}, ValidationError, "no mail address"),
    ],
)
def test_what_could_not_be_applied_is_not_agreed(
    terms: dict[str, Any], refusal: type[Exception], says: str, settle: Callable[..., Agreement]
) -> None:
    with pytest.raises(refusal, match=says):
        settle(**terms)
    assert not Agreement.objects.exists()


def test_the_agreement_of_a_day_is_the_one_known_then(
    settle: Callable[..., Agreement], shafts: Department, calipers: Family
) -> None:
    first = settle()
    second = settle(START + 10 * DAY, rule=GUARDED)
    late = settle(START + 5 * DAY, START + 20 * DAY)  # written down afterwards
    found = [agreement_in_force(shafts, calipers, START + n * DAY) for n in (-1, 0, 6, 10, 30)]
    assert found == [None, first, first, second, second]
    assert agreement_in_force(shafts, calipers, START + 6 * DAY, START + 20 * DAY) == late
    assert list(agreements_in_force(START + 6 * DAY)) == [first]
    assert list(agreements_in_force(START + 30 * DAY)) == [second]


def test_a_withdrawal_ends_what_was_to_begin_later_too(
    settle: Callable[..., Agreement], shafts: Department, calipers: Family
) -> None:
    settle()
    settle(START + 10 * DAY, START + DAY)
    end: dict[str, Any] = {"department": shafts, "family": calipers, "by": SETUP}
    withdraw_agreement(**end, reason="the line closes", now=START + 5 * DAY)
    held = [agreement_in_force(shafts, calipers, START + n * DAY) for n in (4, 5, 9, 10, 99)]
    assert held[0] is not None and held[1:] == [None] * 4
    with pytest.raises(NothingAgreed):
        withdraw_agreement(**end, reason="again", now=START + 6 * DAY)


def test_one_that_never_began_can_be_withdrawn(
    settle: Callable[..., Agreement], shafts: Department, calipers: Family
) -> None:
    settle(START + 10 * DAY, START)
    withdraw_agreement(department=shafts, family=calipers, reason="not yet", by=SETUP, now=START + DAY)
    assert agreement_in_force(shafts, calipers, START + 20 * DAY) is None


def test_facts_are_corrected_with_a_reason(shafts: Department, calipers: Family) -> None:
    place = add_place(name="Shaft line", department=None, by=SETUP, now=START)
    more: dict[str, Any] = {"reason": "moved", "by": SETUP, "now": START}
    change_place(place=place, data=PlaceData("Shaft line 1", shafts, False), **more)
    assert (last().before, last().after) == (
        {"name": "Shaft line", "department": None},
        {"name": "Shaft line 1", "department": "Shafts"},
    )
    change_family(family=calipers, data=FamilyData("Caliper", Decimal("1.5"), 6), **more)
    assert last().after == {"bench_hours": "1.5", "default_interval_months": 6}
    change_department(department=shafts, data=DepartmentData("SH", "Shafts", "shift lead"), **more)
    with pytest.raises(NothingChanged):
        change_department(department=shafts, data=DepartmentData("SH", " Shafts ", "shift lead"), **more)
    with pytest.raises(ReasonMissing):
        change_department(department=shafts, data=DepartmentData("S", "S", ""), **{**more, "reason": ""})


def test_a_name_that_is_taken_is_said_beside_its_field(shafts: Department) -> None:
    other = add_department(code="HS", name="Housings", contact="", by=SETUP, now=START)
    with pytest.raises(ValidationError) as refusal:
        change_department(
            department=other, data=DepartmentData("HS", "Shafts", ""), reason="x", by=SETUP, now=START
        )
    assert "name" in refusal.value.message_dict


def test_tags_are_one_namespace_without_capitals(db: None) -> None:
    issue_tag(text="CAL-1", by=SETUP, now=START)
    with pytest.raises(TagTaken):
        issue_tag(text=" cal-1 ", by=SETUP, now=START)


def test_capacity_holds_from_its_day(db: None) -> None:
    set_capacity(hours_per_week=Decimal(40), valid_from=START, reason="", by=SETUP, now=START)
    monday = start_of_day((START + 14 * DAY).date())
    set_capacity(hours_per_week=Decimal(0), valid_from=monday, reason="closed", by=SETUP, now=START + DAY)
    assert [hours_per_week(at) for at in (START - DAY, START, monday - DAY, monday)] == [0, 40, 40, 0]


def test_one_signature_is_a_decision_with_its_reason(db: None) -> None:
    said: dict[str, Any] = {"name": "Laboratory", "address": "1 Works Road", "contact": "x", "by": SETUP}
    with pytest.raises(ReasonMissing, match="Working with one signature"):
        set_details(**said, second_signature=False, reason=" ", now=START)
    set_details(**said, second_signature=False, reason="one person works here", now=START)
    set_details(**said, second_signature=True, reason="", now=START + 10 * DAY)
    before, after = details_in_force(START + DAY), details_in_force(START + 11 * DAY)
    assert before is not None and not before.second_signature
    assert (before.reason, before.decided_by) == ("one person works here", "set-up")
    assert after is not None and after.second_signature


@pytest.mark.parametrize("role", ["technician", "reviewer", "auditor", "floor"])
def test_facts_are_the_managers_matter(
    role: str, person: Callable[[str], Person], shafts: Department
) -> None:
    by = person(role)
    acts: list[Callable[[], Any]] = [
        lambda: add_place(name="x", department=None, by=by, now=START),
        lambda: change_department(
            department=shafts, data=DepartmentData("x", "x", ""), reason="x", by=by, now=START
        ),
        lambda: set_capacity(hours_per_week=Decimal(1), valid_from=START, reason="", by=by, now=START),
        lambda: set_details(
            name="x", address="x", contact="x", second_signature=True, reason="", by=by, now=START
        ),
    ]
    for act in acts:
        with pytest.raises(NotAllowed):
            act()
    assert Department.objects.get().name == "Shafts"
