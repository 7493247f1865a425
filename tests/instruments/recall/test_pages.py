"""Pages of recall: who may open them, what they say, and that each calls its one act."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from io import BytesIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from instruments.inventory.models import Gauge
from instruments.recall import operations as recall
from instruments.recall import queries
from instruments.recall.models import CallIn, Hold, OutsideCertificate
from instruments.recall.queries.labels import Label, labels
from instruments.recall.views.labels import print_of
from labsys.accounts.models import Person
from labsys.jobs import notices
from labsys.jobs.models import Notice
from labsys.jobs.notices import Draft
from labsys.laboratory.models import Department, Place
from labsys.laboratory.operations import AgreementTerms, agree, set_capacity
from labsys.pages import fonts, pdf
from tests.instruments.recall.conftest import NOW, ROLES, TODAY, MakeGauge, calibrate

People = dict[str, Person]
DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def clock(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.fixture
def due_now(make_gauge: MakeGauge) -> list[Gauge]:
    return [make_gauge(calibrated_on=(TODAY + n * DAY).replace(year=2025)) for n in range(3)]


def client(person: Person) -> Client:
    found = Client()
    found.force_login(person)
    return found


def page(person: Person, address: str, **asked: Any) -> str:
    response = client(person).get(address, asked)
    assert response.status_code == 200, (address, response.status_code)
    return str(response.content.decode())


READERS = {"manager", "technician", "reviewer", "auditor", "administrator"}
PAGES: list[tuple[str, set[str]]] = [
    ("/planning/", READERS),
    ("/planning/late/", READERS),
    ("/planning/weeks/2026-W48/", READERS),
    ("/planning/weeks/late-1/", READERS),
    ("/planning/called-in/", READERS),
    ("/planning/call-in/", {"manager"}),
    ("/gauges/{gauge}/receive/", {"manager", "technician"}),
    ("/gauges/{gauge}/give-back/", {"manager", "technician"}),
    ("/gauges/{gauge}/hold/", {"manager", "technician", "reviewer"}),
    ("/gauges/holds/{hold}/lift/", {"manager", "reviewer"}),
    ("/gauges/{gauge}/restrict/", {"manager", "reviewer"}),
    ("/gauges/{gauge}/restriction/lift/", {"manager", "reviewer"}),
    ("/gauges/{gauge}/interval/", {"manager"}),
    ("/gauges/{gauge}/put-off/", {"manager"}),
    ("/gauges/{gauge}/outside-certificate/", {"manager", "technician", "reviewer"}),
    ("/gauges/outside-certificates/{outside}/", READERS),
    ("/planning/called-in/{call}/withdraw/", {"manager"}),
    ("/lab/messages/", {"manager", "administrator"}),
    ("/api/v1/standings/", READERS),
]


@pytest.fixture
def made(make_gauge: MakeGauge, people: People) -> dict[str, int]:
    """One of everything that an address may name."""
    gauge, called = make_gauge(), make_gauge()
    hold = recall.set_hold(gauge=gauge, kind=Hold.Kind.OTHER, reason="Asked.", by=people["manager"], now=NOW)
    outcome = recall.call_in(gauges=[called], bring_by=TODAY, by=people["manager"], now=NOW)
    data = recall.OutsideData("Outside laboratory A", "A-1", TODAY, "in_tolerance")
    file = SimpleUploadedFile("a.pdf", b"%PDF-1.7 invented")
    outside = recall.receive_outside_certificate(
        gauge=gauge, data=data, file=file, by=people["technician"], now=NOW
    )
    return {"gauge": gauge.pk, "hold": hold.pk, "call": outcome.called[0].pk, "outside": outside.pk}


@pytest.mark.parametrize(("address", "roles"), PAGES)
def test_each_page_opens_to_its_roles_and_to_nobody_else(
    made: dict[str, int], people: People, address: str, roles: set[str]
) -> None:
    where = address.format(**made)
    answers = {role: client(people[role]).get(where).status_code for role in ROLES}
    assert answers == {role: 200 if role in roles else 403 for role in ROLES}
    assert Client().get(where).status_code in (302, 401)


def test_planning_says_one_sentence_and_shows_the_rule(due_now: list[Gauge], people: People) -> None:
    set_capacity(
        hours_per_week=Decimal(2),
        valid_from=NOW - DAY,
        reason="As staffed.",
        by=people["manager"],
        now=NOW - DAY,
    )
    found = page(people["manager"], "/planning/")
    assert "Nothing is late. Week 48 needs 2.25 h, the bench has 2 h." in found
    assert 'href="/planning/weeks/2026-W48/"' in found
    assert 'class="week-excess"' in found
    assert "Week 48: 3 due, 0 called in or here" in found


def test_planning_says_that_messages_may_not_have_arrived(people: People) -> None:
    draft = Draft("person:1", "lead@plant.example", "digest", "gauges", "2026-11-23", "Gauges: 1 late", "…")
    notices.plan([draft], NOW)
    Notice.objects.update(state="doubtful")
    assert "1 message may not have arrived." in page(people["manager"], "/planning/")
    assert "may not have arrived" not in page(people["technician"], "/planning/")


def test_planning_takes_as_many_queries_with_many_gauges(make_gauge: MakeGauge, people: People) -> None:
    counts = []
    manager = client(people["manager"])
    for _ in range(2):
        for number in range(6):
            make_gauge(calibrated_on=(TODAY - (number + 2) * DAY).replace(year=2025))
        with CaptureQueriesContext(connection) as asked:
            assert manager.get("/planning/").status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]
    assert counts[0] <= 50


def test_a_week_that_is_not_on_the_rule_is_not_there(people: People) -> None:
    for name in ("2026-W47", "2027-W30", "late-5", "nonsense"):
        assert client(people["manager"]).get(f"/planning/weeks/{name}/").status_code == 404


def test_calling_in_says_what_it_will_do_before_it_does(due_now: list[Gauge], people: People) -> None:
    manager = client(people["manager"])
    first = due_now[0]
    recall.call_in(gauges=[first], bring_by=TODAY, by=people["manager"], now=NOW)
    sent = {"selected": [gauge.pk for gauge in due_now]}
    preview = manager.post("/planning/call-in/", sent).content.decode()
    assert "Call in 2 gauges" in preview
    assert f"{first} is called in already, by {TODAY}." in preview
    assert CallIn.objects.count() == 1
    done = manager.post(
        "/planning/call-in/", {**sent, "confirm": "yes", "bring_by": f"{TODAY + DAY}", "note": "With case."}
    )
    assert done["Location"] == "/planning/called-in/"
    assert set(CallIn.objects.values_list("gauge", flat=True)) == {gauge.pk for gauge in due_now}
    listed = manager.get("/planning/called-in/").content.decode()
    assert all(gauge.tag.text in listed for gauge in due_now)
    assert "2 gauges are called in." in listed


def test_a_whole_week_is_called_in_at_once(due_now: list[Gauge], people: People) -> None:
    assert "Call in 3 gauges" in page(people["manager"], "/planning/call-in/", week="2026-W48")


def test_a_past_day_is_said_beside_the_field_and_what_was_typed_is_kept(
    due_now: list[Gauge], people: People
) -> None:
    sent = {"selected": [due_now[0].pk], "confirm": "yes", "bring_by": f"{TODAY - DAY}", "note": "With case."}
    response = client(people["manager"]).post("/planning/call-in/", sent)
    assert response.status_code == 422
    found = response.content.decode()
    assert "today is 2026-11-23" in found and "With case." in found
    assert not CallIn.objects.exists()


def post(person: Person, address: str, **sent: Any) -> Any:
    return client(person).post(address, sent)


def test_decisions_about_one_gauge(gauge: Gauge, people: People) -> None:
    manager, home = people["manager"], f"/gauges/{gauge.pk}/"
    steps: list[tuple[str, dict[str, Any], str]] = [
        ("hold/", {"kind": "other", "reason": "Asked."}, "stop"),
        ("restrict/", {"functions": ["outside"], "text": "Outside only.", "reason": "Worn."}, "stop"),
    ]
    for address, sent, word in steps:
        assert post(manager, home + address, **sent)["Location"] == home
        assert queries.standing(gauge, TODAY).word == word
    hold = gauge.holds.get()
    assert post(manager, f"/gauges/holds/{hold.pk}/lift/", reason="Answered.")["Location"] == home
    assert queries.standing(gauge, TODAY).word == "restricted"
    assert post(manager, home + "restriction/lift/", reason="Repaired.")["Location"] == home
    assert post(manager, home + "interval/", months=9, reason="Drifts.")["Location"] == home
    assert f"{queries.due_on(gauge, NOW)}" == "2026-12-10"
    late = post(manager, home + "put-off/", to_on="2027-02-01", reason="Busy.")
    assert late.status_code == 422
    assert "2027-01-06 at most" in late.content.decode()
    assert post(manager, home + "put-off/", to_on="2026-12-20", reason="Busy.")["Location"] == home
    shown = page(manager, home)
    assert "put off from 2027-03-10" not in shown
    assert "2026-12-20" in shown


def test_a_gauge_is_received_and_given_back(gauge: Gauge, people: People, bench: Place) -> None:
    technician, home = people["technician"], f"/gauges/{gauge.pk}/"
    sent = {"condition": "Clean.", "place": "Bench 1", "at": "2026-11-23T08:30"}
    assert post(technician, home + "receive/", **sent)["Location"] == home
    refused = post(technician, home + "give-back/", handed_to_note="Shift lead")
    assert refused.status_code == 422
    assert "nothing shows since 2026-11-23 that it is good" in refused.content.decode()
    calibrate(gauge, NOW, by=people["manager"])
    assert post(technician, home + "give-back/", handed_to_note="Shift lead")["Location"] == home
    assert queries.standing(gauge, TODAY).word == "use"


def test_a_receipt_to_come_is_said_beside_its_field(gauge: Gauge, people: People) -> None:
    response = post(
        people["technician"], f"/gauges/{gauge.pk}/receive/", condition="Clean.", at="2026-11-23T09:01"
    )
    assert response.status_code == 422
    assert "it is 2026-11-23 09:00" in response.content.decode()


def test_an_outside_certificate_from_file_to_decision(gauge: Gauge, people: People) -> None:
    sent = {
        "issuer": "Outside laboratory A",
        "number": "A-17",
        "calibrated_on": "2026-11-02",
        "verdict": "in_tolerance",
        "as_found_within_limits": "unknown",
        "file": SimpleUploadedFile("scan.pdf", b"%PDF-1.7 invented"),
    }
    response = post(people["technician"], f"/gauges/{gauge.pk}/outside-certificate/", **sent)
    row = OutsideCertificate.objects.get()
    assert row.as_found_within_limits is None
    assert response["Location"] == f"/gauges/outside-certificates/{row.pk}/"
    file = client(people["auditor"]).get(f"/gauges/outside-certificates/{row.pk}/file/")
    assert b"".join(file.streaming_content) == b"%PDF-1.7 invented"  # type: ignore[attr-defined]
    assert file["Content-Disposition"].startswith("attachment")
    assert "Does it count?" not in page(people["technician"], f"/gauges/outside-certificates/{row.pk}/")
    post(people["reviewer"], f"/gauges/outside-certificates/{row.pk}/", decision="accept", reason="In scope.")
    assert f"{queries.due_on(gauge, NOW)}" == "2027-11-02"
    row.file.storage.delete(str(row.file.name))
    assert "is missing or is not the one" in page(
        people["auditor"], f"/gauges/outside-certificates/{row.pk}/"
    )


# Labels, and refusal 9: a due date only where that was agreed


@pytest.fixture(scope="session")
def built_fonts() -> None:
    fonts.build()


def printed(gauges: list[Gauge], people: People) -> list[str]:
    address = "/gauges/labels/?" + "&".join(f"gauge={gauge.pk}" for gauge in gauges)
    response = client(people["technician"]).get(address)
    assert response["Content-Type"] == "application/pdf"
    return [one.extract_text() for one in PdfReader(BytesIO(response.content)).pages]


def agreement(gauge: Gauge, people: People, department: Department) -> None:
    agree(
        department=department,
        family=gauge.model.family,
        terms=AgreementTerms(
            rule={"kind": "simple", "min_ratio": 4, "view": "test_value"}, due_date_printed=True
        ),
        agreed_by="the shift lead",
        valid_from=NOW - DAY,
        by=people["manager"],
        now=NOW - DAY,
    )


def test_a_label_has_a_due_date_only_where_it_was_agreed(
    gauge: Gauge, people: People, turning: Department, built_fonts: None
) -> None:
    (before,) = printed([gauge], people)
    assert "Calibrated 2026-03-10" in before
    assert "2027" not in before and "Due" not in before
    agreement(gauge, people, turning)
    (after,) = printed([gauge], people)
    assert "Due 2027-03-10" in after


def test_a_batch_has_one_label_of_50_by_25_mm_per_gauge(
    make_gauge: MakeGauge, people: People, built_fonts: None
) -> None:
    gauges = [make_gauge() for _ in range(3)]
    address = "/gauges/labels/?" + "&".join(f"gauge={gauge.pk}" for gauge in gauges)
    found = PdfReader(BytesIO(client(people["technician"]).get(address).content))
    sizes = {(_mm(one.mediabox.width), _mm(one.mediabox.height)) for one in found.pages}
    assert sizes == {(50, 25)}
    assert [gauge.tag.text in one.extract_text() for gauge, one in zip(gauges, found.pages, strict=True)] == [
        True
    ] * 3
    names = {str(font["/BaseFont"]) for one in found.pages for font in _fonts(one)}
    assert all("Source-Sans-3" in name or "SourceSans3" in name for name in names) and names


def _mm(points: Any) -> int:
    return round(float(points) / 72 * 25.4)


def _fonts(one: Any) -> list[Any]:
    return [font.get_object() for font in one["/Resources"]["/Font"].values()]


def test_the_labels_of_what_may_not_be_used_carry_no_dates(make_gauge: MakeGauge, people: People) -> None:
    held, new, bare = make_gauge(), make_gauge(calibrated_on=None), make_gauge()
    recall.report_damage(gauge=held, what="Dropped.", by=people["floor"], now=NOW)
    calibrate(bare, NOW, by=people["manager"], as_left="out_of_tolerance")
    indicator = make_gauge(calibrated_on=None, calibration_needed=False, no_calibration_reason="A prop.")
    lines = [label.lines for label in labels([held, new, bare, indicator], NOW)]
    assert lines == [("Scan before use.",)] * 3 + [("Indication only, not for acceptance.",)]


def test_the_code_carries_the_opaque_address_and_nothing_of_the_gauge(gauge: Gauge) -> None:
    (label,) = labels([gauge], NOW)
    assert label.url == f"http://127.0.0.1:8000/f/{gauge.tag.code}/"
    assert gauge.tag.text not in label.url


def test_labels_are_the_same_bytes_each_time_and_fetch_nothing(built_fonts: None) -> None:
    label = Label(
        "CAL-0001", "Caliper", "http://127.0.0.1:8000/f/" + "0" * 32 + "/", ("Calibrated 2026-03-10",)
    )
    assert print_of([label]) == print_of([label])
    with pytest.raises(pdf.PrintFailed):
        pdf.render('<img src="file:///etc/hostname">')


# Standings for programs


def test_programs_read_the_same_standings(make_gauge: MakeGauge, people: People) -> None:
    gauge, held = make_gauge(), make_gauge()
    recall.report_damage(gauge=held, what="Dropped.", by=people["floor"], now=NOW)
    auditor = client(people["auditor"])
    one = auditor.get(f"/api/v1/standings/{gauge.tag.text.lower()}/").json()
    assert one == {
        "tag": gauge.tag.text,
        "word": "use",
        "label": "use",
        "reason": "",
        "valid_until": "2027-03-10",
        "restriction": "",
        "needs_check": False,
        "due_on": "2027-03-10",
        "in_laboratory": False,
    }
    stopped = auditor.get("/api/v1/standings/", {"word": "stop"}).json()
    assert [row["tag"] for row in stopped["results"]] == [held.tag.text]
    assert [row["reason"] for row in stopped["results"]] == ["reported damage"]
    assert auditor.get("/api/v1/standings/nothing/").status_code == 404
