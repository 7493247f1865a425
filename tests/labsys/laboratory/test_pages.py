"""Pages of the Lab: its sections by person, facts, agreements with their rule in words, bench hours, details."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from labsys.laboratory.forms.agreements import KINDS
from labsys.laboratory.models import Agreement, Capacity, Department, Family, LaboratoryDetail, Place
from labsys.laboratory.operations import AgreementTerms, add_department, add_family, agree, set_details
from labsys.laboratory.queries import agreement_in_force, local_date
from labsys.metrology.rules import Rule, RuleKind
from tests.labsys.conftest import SETUP, START

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)
GUARDED = {"kind": "guarded", "g": "1", "view": "calibration"}


@pytest.fixture
def shafts(db: None) -> Department:
    return add_department(code="SH", name="Shafts", contact="shop lead", by=SETUP, now=START)


@pytest.fixture
def calipers(db: None) -> Family:
    return add_family(
        code="caliper", name="Caliper", bench_hours=Decimal("0.75"), interval_months=12, by=SETUP, now=START
    )


@pytest.fixture
def agreed(shafts: Department, calipers: Family) -> Agreement:
    return agree(
        department=shafts, family=calipers, terms=AgreementTerms(rule=GUARDED), agreed_by="shop lead",
        valid_from=START, by=SETUP, now=START,
    )  # fmt: skip


@pytest.fixture
def manager(signed_in: Callable[[str], Client]) -> Client:
    return signed_in("manager")


def sent(department: Department, family: Family, **changes: Any) -> dict[str, Any]:
    """What a browser sends for an agreement without own limits."""
    return {
        "department": department.pk, "family": family.pk, "valid_from": local_date(timezone.now()),
        "agreed_by": "shift lead", "kind": "simple", "view": "test_value", "min_ratio": "4", "g": "1",
        "max_false_accept": "", "recipients": "",
        "rows-TOTAL_FORMS": "2", "rows-INITIAL_FORMS": "0", **changes,
    }  # fmt: skip


def test_sections_are_what_the_person_may_see(signed_in: Callable[[str], Client]) -> None:
    shown = {
        role: {
            one.name
            for group in signed_in(role).get(reverse("lab")).context["groups"].values()
            for one in group
        }
        for role in ("manager", "technician")
    }
    assert {"People", "Agreements", "Procedures", "Jobs"} <= shown["manager"]
    assert {"People", "Agreements", "Procedures"} <= shown["technician"]
    assert "Jobs" not in shown["technician"]


def test_every_section_opens(manager: Client) -> None:
    groups = manager.get(reverse("lab")).context["groups"]
    addresses = [section.url for sections in groups.values() for section in sections]
    assert len(addresses) >= 10
    assert [address for address in addresses if manager.get(address).status_code != 200] == []


def test_a_laboratory_without_a_name_is_told(manager: Client) -> None:
    assert "has no name yet" in manager.get(reverse("lab")).content.decode()
    given = {
        "name": "Calibration laboratory",
        "address": "1 Works Road",
        "contact": "x",
        "second_signature": "on",
    }
    manager.post(reverse("details-set"), given)
    assert "has no name yet" not in manager.get(reverse("lab")).content.decode()


@pytest.mark.parametrize(
    ("kind", "model", "given"),
    [
        ("departments", Department, {"code": "HS", "name": "Housings", "contact": "lead"}),
        ("places", Place, {"name": "Housing line", "is_laboratory": "on"}),
        (
            "families",
            Family,
            {"code": "depth", "name": "Depth", "bench_hours": "1.5", "default_interval_months": "6"},
        ),
    ],
)
def test_facts_are_added_and_corrected(kind: str, model: Any, given: dict[str, str], manager: Client) -> None:
    assert "There is none yet" in manager.get(reverse(kind)).content.decode()
    manager.post(reverse(f"{kind}-add"), given)
    row = model.objects.get()
    assert row.name == given["name"]
    again = manager.post(reverse(f"{kind}-add"), given)
    assert again.status_code == 422 and "name" in again.context["form"].errors
    address = reverse(f"{kind}-change", args=[row.pk])
    assert manager.post(address, {**given, "name": "New"}).status_code == 422, "a reason is wanted"
    assert manager.post(address, {**given, "name": "New", "reason": "renamed"}).status_code == 302
    row.refresh_from_db()
    assert row.name == "New"
    assert "New" in manager.get(reverse(kind)).content.decode()


def test_every_rule_has_its_words() -> None:
    assert {value for value, _ in KINDS} == {kind.value for kind in RuleKind}


@pytest.mark.parametrize(
    ("chosen", "stored"),
    [
        ({"kind": "simple", "min_ratio": "4"}, {"kind": "simple", "min_ratio": "4"}),
        ({"kind": "simple", "min_ratio": ""}, {"kind": "simple", "min_ratio": None}),
        ({"kind": "guarded", "g": "0,83"}, {"kind": "guarded", "g": "0.83"}),
        (
            {"kind": "specific_risk", "max_false_accept": "0.025"},
            {"kind": "specific_risk", "max_false_accept": "0.025"},
        ),
        ({"kind": "prove"}, {"kind": "prove", "g": "1"}),
        ({"kind": "four_way"}, {"kind": "four_way", "g": "1"}),
        (
            {"kind": "prescribed", "document": "ISO 13385-1:2019, clause 6"},
            {"kind": "prescribed", "document": "ISO 13385-1:2019, clause 6"},
        ),
    ],
)
def test_the_form_makes_the_rule_that_was_chosen(
    chosen: dict[str, str], stored: dict[str, Any], shafts: Department, calipers: Family, manager: Client
) -> None:
    manager.post(reverse("agreement-record"), sent(shafts, calipers, **chosen))
    row = Agreement.objects.get()
    assert row.rule == {**stored, "view": "test_value"}
    text = manager.get(reverse("agreement", args=[row.pk])).content.decode()
    words = Rule.from_json(row.rule).words
    assert words[1:] in text.replace("&#x27;", "'")


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"kind": "guarded", "g": ""}, "g"),
        ({"kind": "specific_risk", "max_false_accept": ""}, "max_false_accept"),
        ({"kind": "prescribed", "document": " "}, "document"),
        ({"min_ratio": "four"}, "min_ratio"),
        ({"recipients": "nobody"}, "recipients"),
        ({"agreed_by": ""}, "agreed_by"),
        (
            {"rows-0-function": "outside", "rows-0-up_to_mm": "150", "rows-0-upper_mm": "0.03"},
            "limits_source",
        ),
    ],
)
def test_what_is_to_be_mended_stands_beside_its_field(
    wrong: dict[str, str], field: str, shafts: Department, calipers: Family, manager: Client
) -> None:
    answer = manager.post(reverse("agreement-record"), sent(shafts, calipers, **wrong))
    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    assert not Agreement.objects.exists()


def test_a_bad_rule_or_line_is_said_on_top(shafts: Department, calipers: Family, manager: Client) -> None:
    line = {"rows-0-function": "outside", "rows-0-up_to_mm": "wide", "limits_source": "Drawing 4711"}
    for wrong, says in (({"kind": "guarded", "g": "-1"}, "zero or more"), (line, "Line 1 of the limits")):
        answer = manager.post(reverse("agreement-record"), sent(shafts, calipers, **wrong))
        assert answer.status_code == 422
        assert says in answer.content.decode()


def test_own_limits_are_kept_shown_and_taken_over(
    shafts: Department, calipers: Family, manager: Client
) -> None:
    lines = {
        "rows-0-function": "outside", "rows-0-up_to_mm": "150", "rows-0-lower_mm": "-0.03",
        "rows-0-upper_mm": "0.03", "limits_source": "Drawing 4711",
    }  # fmt: skip
    manager.post(reverse("agreement-record"), sent(shafts, calipers, **lines))
    row = Agreement.objects.get()
    text = manager.get(reverse("agreement", args=[row.pk])).content.decode()
    assert "Drawing 4711" in text and "not confirmed" in text and "-0.03" in text
    anew = manager.get(reverse("agreement-settle-anew", args=[row.pk])).content.decode()
    assert 'value="-0.03"' in anew and 'value="Drawing 4711"' in anew


def test_more_lines_store_nothing_and_keep_what_was_typed(
    shafts: Department, calipers: Family, manager: Client
) -> None:
    typed = sent(shafts, calipers, more="1", **{"rows-0-function": "depth", "rows-0-up_to_mm": "77"})
    answer = manager.post(reverse("agreement-record"), typed)
    assert 'value="77"' in answer.content.decode()
    assert len(answer.context["lines"].forms) == 6
    assert not Agreement.objects.exists()


def test_settling_anew_begins_with_what_holds(agreed: Agreement, manager: Client) -> None:
    page = manager.get(reverse("agreement-settle-anew", args=[agreed.pk]))
    form = page.context["form"]
    assert (form["kind"].value(), form["view"].value(), form["g"].value()) == ("guarded", "calibration", "1")
    assert form["min_ratio"].value() == ""


def test_the_day_of_agreements_can_be_chosen(
    agreed: Agreement, shafts: Department, calipers: Family, manager: Client
) -> None:
    agree(
        department=shafts, family=calipers, agreed_by="shift lead", valid_from=START + 20 * DAY,
        terms=AgreementTerms(rule={**GUARDED, "g": "2"}), by=SETUP, now=START + 20 * DAY,
    )  # fmt: skip

    def rules(query: str) -> list[str]:
        rows = manager.get(f"{reverse('agreements')}?{query}").context["table"].rows
        return [row.cells["rule"] for row in rows]

    assert "w = 1 · U" in rules("on=2026-01-10")[0]
    assert "w = 2 · U" in rules("")[0]
    assert rules("on=2026-01-01") == []
    assert "This is history" in manager.get(reverse("agreement", args=[agreed.pk])).content.decode()


@pytest.mark.parametrize(
    ("query", "count"),
    [("department=SH", 1), ("family=caliper&due=not-printed", 1), ("due=printed", 0), ("department=XX", 0)],
)
def test_agreements_are_found(query: str, count: int, agreed: Agreement, manager: Client) -> None:
    assert len(manager.get(f"{reverse('agreements')}?{query}").context["table"].rows) == count


def test_an_agreement_is_withdrawn_and_the_page_says_so(
    agreed: Agreement, shafts: Department, calipers: Family, manager: Client
) -> None:
    answer = manager.post(
        reverse("agreement-withdraw", args=[agreed.pk]), {"reason": "the line closes"}, follow=True
    )
    assert agreement_in_force(shafts, calipers, timezone.now()) is None
    assert "the line closes" in answer.content.decode()
    again = manager.post(reverse("agreement-withdraw", args=[agreed.pk]), {"reason": "again"})
    assert again.status_code == 422 and "nothing to withdraw" in again.content.decode()


def test_bench_hours_are_set_from_a_day(manager: Client) -> None:
    manager.post(
        reverse("capacity-set"), {"hours_per_week": "32.5", "valid_from": "2026-01-12", "reason": ""}
    )
    row = Capacity.objects.get()
    assert (row.hours_per_week, local_date(row.valid_from).isoformat()) == (Decimal("32.5"), "2026-01-12")
    assert "32.5 h a week now" in manager.get(reverse("capacity")).content.decode()
    answer = manager.post(reverse("capacity-set"), {"hours_per_week": "-1", "valid_from": "2026-01-12"})
    assert answer.status_code == 422


def test_one_signature_wants_its_reason_and_is_shown_with_it(manager: Client) -> None:
    given = {"name": "Laboratory", "address": "1 Works Road", "contact": "x"}
    answer = manager.post(reverse("details-set"), given)
    assert answer.status_code == 422 and "reason" in answer.context["form"].errors
    manager.post(reverse("details-set"), {**given, "reason": "one person works here"})
    assert not LaboratoryDetail.objects.get().second_signature
    text = manager.get(reverse("details")).content.decode()
    assert "by decision of The manager" in text and "one person works here" in text


def test_what_the_laboratory_was_called_on_a_day(manager: Client) -> None:
    for name, at in (("Before", START), ("After", START + 20 * DAY)):
        set_details(name=name, address="x", contact="x", second_signature=True, reason="", by=SETUP, now=at)
    assert manager.get(f"{reverse('details')}?on=2026-01-10").context["details"].name == "Before"
    assert manager.get(reverse("details")).context["details"].name == "After"


@pytest.mark.parametrize("page", ["agreements", "departments", "places", "families"])
def test_more_rows_ask_no_more_questions(page: str, agreed: Agreement, manager: Client) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as counted:
            assert manager.get(reverse(page)).status_code == 200
        return len(counted)

    few = asked()
    for number in range(25):
        department = add_department(
            code=f"D{number}", name=f"Department {number}", contact="", by=SETUP, now=START
        )
        Place.objects.create(name=f"Place {number}", department=department)
        family = add_family(
            code=f"f{number}",
            name=f"Family {number}",
            bench_hours=Decimal(1),
            interval_months=12,
            by=SETUP,
            now=START,
        )
        agree(
            department=department, family=family, terms=AgreementTerms(rule=GUARDED), agreed_by="x",
            valid_from=START, by=SETUP, now=START,
        )  # fmt: skip
    assert asked() == few <= 10


@pytest.mark.parametrize("role", ["technician", "reviewer", "auditor"])
def test_who_only_reads_is_offered_no_act(
    role: str, agreed: Agreement, signed_in: Callable[[str], Client]
) -> None:
    client = signed_in(role)
    for page, args in (("agreements", []), ("agreement", [agreed.pk]), ("departments", []), ("capacity", [])):
        text = client.get(reverse(page, args=args)).content.decode()
        assert "button-main" not in text and "button-stop" not in text
