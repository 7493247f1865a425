"""The site's own pages in Chromium, tablet and desk, light and dark: axe finds nothing, nothing overflows."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from zeal import zeal_ignore

from labsys.accounts.models import Activity, Person
from labsys.accounts.operations import Grant, authorise, issue_token, offer_way_in
from labsys.jobs.models import JobRun
from labsys.jobs.owed import owe, work_off
from labsys.journal.models import JournalEntry
from labsys.journal.operations import record_verification
from labsys.journal.queries import verify_chain
from labsys.laboratory.models import Agreement
from labsys.laboratory.operations import (
    AgreementTerms,
    add_department,
    add_family,
    add_place,
    agree,
    set_capacity,
    set_details,
)
from tests import looking
from tests.labsys.conftest import PASSWORD, SETUP, START

pytestmark = [pytest.mark.browser, pytest.mark.django_db]


def broken(subject: str, now: object) -> None:
    raise RuntimeError("the font is missing")


@pytest.fixture
def lab(person: Callable[[str], Person]) -> Agreement:
    """Something to show on every page."""
    more: dict[str, Any] = {"by": SETUP, "now": START}
    department = add_department(code="SH", name="Shafts", contact="shift lead, shafts", **more)
    add_place(name="Shaft line", department=department, **more)
    family = add_family(
        code="outside-micrometer",
        name="Outside micrometer",
        bench_hours=Decimal("1.25"),
        interval_months=12,
        **more,
    )
    set_details(
        name="Calibration laboratory of the pump works", address="1 Works Road", contact="lab@pump-works.example",
        second_signature=False, reason="one person works here until spring", **more,
    )  # fmt: skip
    set_capacity(hours_per_week=Decimal("32.5"), valid_from=START, reason="two benches", **more)
    line = {"function": "outside", "up_to_mm": "25", "lower_mm": "-0.004", "upper_mm": "0.004"}
    terms = AgreementTerms(
        rule={"kind": "guarded", "g": "1", "view": "test_value"}, limit_rows=[line], limits_source="Drawing 4711",
        recipients=["shafts@pump-works.example"], due_date_printed=True,
    )  # fmt: skip
    row = agree(
        department=department,
        family=family,
        terms=terms,
        agreed_by="shift lead, shafts",
        valid_from=START,
        **more,
    )
    soon = (timezone.now() + timedelta(days=20)).date()
    for activity, lapses in ((Activity.MEASURE, soon), (Activity.REVIEW, date(2040, 1, 1))):
        grant = Grant(
            person("technician"),
            activity,
            family,
            lapses,
            supervised=True,
            evidence="three pieces, supervised",
        )
        authorise(grant=grant, valid_from=START, **more)
    issue_token(token_name="due list", by=person("manager"), now=START)
    now = timezone.now()
    JobRun.objects.create(name="sweep", started_at=now, finished_at=now, outcome="failed", detail="x" * 200)
    owe("render-certificate", "certificate:1", now)
    work_off("render-certificate", broken, now=now)
    return row


def test_the_sites_own_pages(
    lab: Agreement, person: Callable[[str], Person], signed_in: Callable[[str], Client], chromium_path: str
) -> None:
    manager, technician = signed_in("manager"), person("technician").pk
    record_verification(report=verify_chain(), by=person("manager"), now=timezone.now())
    entry = JournalEntry.objects.filter(act="laboratory.agree").get().pk
    addresses = [
        *(
            reverse(name)
            for name in ("journal", "lab", "people", "authorisations", "roles", "agreements", "capacity")
        ),
        *(
            reverse(name)
            for name in ("details", "departments", "places", "families", "jobs", "messages", "account")
        ),
        *(reverse(name) for name in ("person-register", "agreement-record", "details-set")),
        reverse("journal") + "?about=nobody",
        reverse("journal-entry", args=[entry]),
        reverse("agreement", args=[lab.pk]),
        reverse("agreement-withdraw", args=[lab.pk]),
        reverse("person", args=[technician]),
        reverse("person", args=[technician]) + "?on=2026-01-06",
        *(reverse(f"person-{page}", args=[technician]) for page in ("authorise", "roles", "way-in", "close")),
        *(reverse("help-page", args=[page]) for page in ("lab", "journal", "people", "signing-in")),
    ]
    assert looking.complaints(looking.make(manager, addresses), chromium_path) == []


def test_refused_forms_and_what_is_shown_once(
    lab: Agreement, person: Callable[[str], Person], signed_in: Callable[[str], Client], chromium_path: str
) -> None:
    manager, technician = signed_in("manager"), person("technician").pk
    answers = {
        "/refused/": manager.post(
            reverse("agreement-record"), {"rows-TOTAL_FORMS": 5, "rows-INITIAL_FORMS": 0}
        ),
        "/refused-person/": manager.post(reverse("person-register"), {"username": "MANAGER"}),
        "/way-in/": manager.post(reverse("person-way-in", args=[technician]), {"reason": "forgotten"}),
        "/token/": manager.post(reverse("token-issue"), {"token_name": "shop screen"}),
        "/refused-token/": manager.post(reverse("token-issue"), {"token_name": "shop screen"}),
    }
    pages = {address: looking.Made.of(answer) for address, answer in answers.items()}
    assert [page.status for page in pages.values()] == [422, 422, 200, 200, 422]
    assert looking.complaints(pages, chromium_path) == []


def test_the_sign_in_pages(person: Callable[[str], Person], chromium_path: str) -> None:
    person("technician")
    nobody, inside = Client(), Client()
    inside.post(reverse("account_login"), {"login": "technician", "password": PASSWORD})
    wrong = nobody.post(reverse("account_login"), {"login": "technician", "password": "no"})
    pages = looking.make(
        nobody,
        [
            reverse(name)
            for name in ("account_login", "account_reset_password", "account_signup", "account_inactive")
        ],
    )
    pages["/wrong/"] = looking.Made.of(wrong)
    made = offer_way_in(person=person("floor"), lock=False, reason="forgotten", by=SETUP, now=timezone.now())
    open_way = nobody.get(f"/account/password/reset/key/{made.uid}-{made.token}/", follow=True)
    pages["/open-way/"] = looking.Made.of(open_way)
    pages["/closed-way/"] = looking.Made.of(nobody.get("/account/password/reset/key/1-abc/"))
    own = (
        "account_change_password",
        "mfa_index",
        "usersessions_list",
        "account_logout",
        "account_reauthenticate",
    )
    with zeal_ignore():  # the library looks at each sign-in of a person by itself
        pages |= looking.make(inside, [reverse(name) for name in own])
    inside.post(reverse("account_reauthenticate"), {"password": PASSWORD})
    pages |= looking.make(inside, [reverse("mfa_activate_totp")])
    assert looking.complaints(pages, chromium_path) == []
