"""Pages of traceability: receiving a certificate and losing nothing, the review, the chain, the file, the issuers."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from labsys.accounts.models import Person, Signature
from standards.register import operations as register
from standards.register.models import Calibration, Standard
from standards.register.queries import require_usable
from standards.traceability import operations as acts
from standards.traceability import pending
from standards.traceability.checklist import QUESTIONS
from standards.traceability.models import Accreditation, CertificateReceived, CertificateReview, Issuer
from standards.traceability.tasks import sweep_pending
from tests.standards.conftest import PASSWORD, REGISTERED, at
from tests.standards.traceability.conftest import PDF

D = Decimal
SignIn = Callable[[str], Client]
Receive = Callable[..., CertificateReceived]
ROLES = ("manager", "technician", "reviewer", "auditor", "floor")


def scan(content: bytes = PDF.content, name: str = "scan of N-1.pdf") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content, "text/html")


@pytest.fixture
def typed(blocks: Standard, laboratory: Issuer) -> dict[str, Any]:
    """What somebody types who enters a certificate of the set GB-01, in µm."""
    given: dict[str, Any] = {
        "issuer": laboratory.pk,
        "number": "N-1",
        "route": "2",
        "quantity": "gauge-block",
        "serial_on_certificate": "4711",
        "calibrated_on": "2024-02-01",
        "issued_on": "2024-02-03",
        "conditions": "20.0 °C",
        "accreditation_mark": "on",
        "unit": "µm",
        "k": "2",
    }
    for number, element in enumerate(blocks.elements.all()):
        given[f"e{element.pk}-deviation"] = ("+0,12", "−0.05", "0")[number]
        given[f"e{element.pk}-expanded"] = "0.1"
    return given


@pytest.fixture
def february(time_machine: Any) -> None:
    time_machine.move_to(at("2024-02-05"))


def field(element: Any, name: str) -> str:
    return f"e{element.pk}-{name}"


def address(standard: Standard) -> str:
    return reverse("certificate-receive", args=[standard.pk])


@pytest.mark.usefixtures("february")
def test_a_certificate_is_entered_in_micrometres(
    blocks: Standard, typed: dict[str, Any], sign_in: SignIn
) -> None:
    answer = sign_in("technician").post(address(blocks), {**typed, "file": scan()})
    row = CertificateReceived.objects.get()
    assert answer["Location"] == reverse("certificate-received", args=[row.pk])
    found = [(v.deviation_mm, v.U_mm, v.k) for v in row.calibration.values.order_by("element__nominal_mm")]
    assert found == [(D(size), D("0.0001"), D(2)) for size in ("0.00012", "-0.00005", "0")]
    assert (row.accreditation_mark, row.calibration.accepted_at) == (True, None)
    assert not list(Path(default_storage.path(pending.FOLDER)).glob("*"))


@pytest.mark.usefixtures("february")
def test_a_mistake_loses_nothing_not_even_the_file(
    blocks: Standard, typed: dict[str, Any], sign_in: SignIn
) -> None:
    client = sign_in("technician")
    wrong = {**typed, "issued_on": "2024-01-31"}
    answer = client.post(address(blocks), {**wrong, "file": scan()})
    text = answer.content.decode()
    assert answer.status_code == 422
    assert answer.context["page"].form.errors["issued_on"][0].startswith("Issued on 2024-01-31: expected")
    assert "“scan of N-1.pdf” was sent and is kept" in text
    assert 'value="+0,12"' in text
    assert not CertificateReceived.objects.exists()
    kept = answer.context["page"].form["kept"].value()
    assert client.post(address(blocks), {**typed, "kept": kept}).status_code == 302
    row = CertificateReceived.objects.get()
    with row.file.open("rb") as stored:
        assert stored.read() == PDF.content


@pytest.mark.usefixtures("february")
def test_a_kept_file_is_for_who_sent_it(
    blocks: Standard, typed: dict[str, Any], technician: Person, sign_in: SignIn
) -> None:
    word = pending.keep(PDF, technician)
    for role, kept in (("reviewer", word), ("technician", word + "x"), ("technician", "../../settings")):
        answer = sign_in(role).post(address(blocks), {**typed, "kept": kept})
        assert answer.context["page"].form.errors["file"] == [
            "The file sent before is no longer kept. Choose it again."
        ]
    assert not CertificateReceived.objects.exists()


def test_kept_files_are_swept_after_a_day(technician: Person, time_machine: Any) -> None:
    word = pending.keep(PDF, technician)
    assert pending.redeem(word, technician) == PDF
    assert sweep_pending() == 0
    time_machine.move_to(datetime.now(UTC) + timedelta(days=1, minutes=1))
    assert pending.redeem(word, technician) is None
    assert sweep_pending() == 1
    assert pending.sweep(datetime.now(UTC)) == 0


@pytest.mark.usefixtures("february")
@pytest.mark.parametrize(
    ("change", "name", "sentence"),
    [
        ({"number": ""}, "number", "This field is required."),
        ({"calibrated_on": "2024-02-06", "issued_on": "2024-02-06"}, "calibrated_on", "after today"),
        ({"route": "1"}, "route", "expected route 2 or 3b"),
        ({"relies_on": "GB-99"}, "relies_on", "No standard has the tag “GB-99”"),
        ({"relies_on": "gb-01"}, "relies_on", "can't rely on itself"),
        ({"file": scan(b"<script>", "x.pdf")}, "file", "is no PDF, PNG or JPEG file"),
    ],
)
def test_a_sentence_beside_the_field(
    change: dict[str, Any], name: str, sentence: str, blocks: Standard, typed: dict[str, Any], sign_in: SignIn
) -> None:
    if "file" in change:
        change["file"].seek(0)
    answer = sign_in("technician").post(address(blocks), {**typed, **change})
    assert answer.status_code == 422
    assert sentence in answer.context["page"].form.errors[name][0]
    assert sentence in unescape(answer.content.decode())
    assert not CertificateReceived.objects.exists()


@pytest.mark.parametrize(
    ("deviation", "expanded", "k", "name", "sentence"),
    [
        ("0.1", "", "", "expanded", "Enter the U too"),
        ("", "0.1", "", "deviation", "Enter the deviation too"),
        ("0.1", "0", "", "expanded", "needs U and a coverage factor"),
        ("0.1", "0.1", "0", "expanded", "needs U and a coverage factor"),
        ("120000", "0.1", "", "deviation", "Is the unit µm, not mm?"),
        ("a tenth", "0.1", "", "deviation", "Enter a number."),
        ("0.1234567", "0.1", "", "deviation", "nine decimals"),
    ],
)
@pytest.mark.usefixtures("february")
def test_a_sentence_beside_the_value(
    deviation: str, expanded: str, k: str, name: str, sentence: str, blocks: Standard, typed: dict[str, Any],
    sign_in: SignIn,
) -> None:  # fmt: skip
    element = blocks.elements.get(label="25")
    cells = {"deviation": deviation, "expanded": expanded, "k": k}
    given = {**typed, **{field(element, cell): text for cell, text in cells.items()}}
    answer = sign_in("technician").post(address(blocks), given)
    line = next(one for one in answer.context["page"].values if one.element == element)
    assert answer.status_code == 422
    assert sentence in line.errors[name][0]
    assert not Calibration.objects.exists()


@pytest.mark.usefixtures("february")
def test_lines_are_read_into_the_fields_and_stored_by_nobody(
    blocks: Standard, typed: dict[str, Any], sign_in: SignIn
) -> None:
    client = sign_in("technician")
    lines = "element;deviation;unit;U;k\n10;+0,00013;mm;0,0001;2\n25.000;-0.07;µm;0.06;2,05\n"
    answer = client.post(address(blocks), {**typed, "read_lines": "1", "lines": lines, "file": scan()})
    assert answer.status_code == 200
    page = answer.context["page"]
    shown = {
        line.element.label: [line[name].value() for name in ("deviation", "expanded", "k")]
        for line in page.values
    }
    assert shown == {"10": ["0.13", "0.1", "2"], "25": ["−0.07", "0.06", "2.05"], "100": ["0", "0.1", ""]}
    assert page.form["number"].value() == "N-1"
    assert "2 lines were read into the fields" in answer.content.decode()
    assert not Calibration.objects.exists()
    sent = {
        name: page.form[name].value()
        for name in page.form.fields
        if name not in ("file", "accreditation_mark")
    }
    for line in page.values:
        sent |= {field(line.element, name): line[name].value() or "" for name in line.fields}
    assert client.post(address(blocks), sent).status_code == 302
    values = {
        value.element.label: (value.deviation_mm, value.k) for value in Calibration.objects.get().values.all()
    }
    assert values == {"10": (D("0.00013"), D(2)), "25": (D("-0.00007"), D("2.05")), "100": (D(0), D(2))}
    assert CertificateReceived.objects.get().file_sha256


@pytest.mark.usefixtures("february")
@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("10;0.1;µm;0.1", "five entries are needed"),
        ("30;0.1;µm;0.1;2", "no element “30”"),
        ("10;0.1;nm;0.1;2", "neither µm nor mm"),
        ("10;0.1;µm;small;2", "must be numbers"),
        ("10;0.1;µm;NaN;2", "must be numbers"),
    ],
)
def test_a_bad_line_is_named(
    line: str, why: str, blocks: Standard, typed: dict[str, Any], sign_in: SignIn
) -> None:
    given = {**typed, "read_lines": "1", "lines": f"25;0.1;µm;0.1;2\n{line}"}
    answer = sign_in("technician").post(address(blocks), given)
    assert answer.status_code == 422
    (sentence,) = answer.context["page"].lines.errors["lines"]
    assert sentence.startswith("Line 2 ")
    assert why in sentence
    assert answer.context["page"].lines["lines"].value() == given["lines"]


@pytest.mark.usefixtures("february")
def test_lines_from_a_file(blocks: Standard, typed: dict[str, Any], sign_in: SignIn) -> None:
    file = SimpleUploadedFile("values.csv", "10,0.2,µm,0.1,2\n".encode("cp1252"))
    answer = sign_in("technician").post(address(blocks), {**typed, "read_lines": "1", "lines_file": file})
    assert answer.context["page"].values[0]["deviation"].value() == "0.2"


def test_what_is_relied_on_must_hold_on_the_day_of_calibration(
    master: Calibration, make_standard: Callable[..., Standard], typed: dict[str, Any], manager: Person,
    technician: Person, sign_in: SignIn, time_machine: Any,
) -> None:  # fmt: skip
    own = acts.register_issuer(name="This laboratory", kind="in-house", by=manager, now=REGISTERED)
    ring = make_standard("RG-01", serial="R1")
    base = {name: text for name, text in typed.items() if not name.startswith("e")}
    element = ring.elements.get(label="25")
    base |= {"issuer": own.pk, "route": "in-house", "serial_on_certificate": "R1", "relies_on": "GB-01"}
    base |= {field(element, "deviation"): "0.1", field(element, "expanded"): "0.2"}
    register.change_state(
        standard=master.standard,
        state="out-of-service",
        reason="Dropped.",
        by=technician,
        now=at("2024-06-01"),
    )
    client = sign_in("technician")

    def refused(day: str) -> str:
        time_machine.move_to(at(day, 15))
        answer = client.post(address(ring), {**base, "calibrated_on": day, "issued_on": day})
        found: str = answer.context["page"].form.errors["relies_on"][0]
        return found

    assert "No calibration of GB-01 was reviewed and accepted by 2024-02-05" in refused("2024-02-05")
    assert "GB-01 was “out of service” on 2024-06-02" in refused("2024-06-02")
    time_machine.move_to(at("2024-06-03"))
    register.return_to_service(
        standard=master.standard, verification="No change.", by=technician, now=at("2024-06-03")
    )
    assert "held through 2025-02-01; it was to be used on 2025-02-02" in refused("2025-02-02")
    time_machine.move_to(at("2024-07-01"))
    given = {**base, "calibrated_on": "2024-07-01", "issued_on": "2024-07-01"}
    assert client.post(address(ring), given).status_code == 302
    assert [link.upstream for link in Calibration.objects.latest("pk").relies_on.all()] == [master]


@pytest.fixture
def waiting(scope: Accreditation, blocks: Standard, receive: Receive) -> CertificateReceived:
    return receive(blocks)


def review_typed(**changes: str) -> dict[str, str]:
    answers = {f"answer_{question.code}": "yes" for question in QUESTIONS}
    return {**answers, "decision": "accept", "password": PASSWORD, **changes}


def review_address(row: CertificateReceived) -> str:
    return reverse("certificate-received", args=[row.pk])


@pytest.mark.parametrize("role", ROLES)
def test_who_sees_and_who_reviews(
    role: str, waiting: CertificateReceived, sign_in: SignIn, time_machine: Any
) -> None:
    time_machine.move_to(at("2024-02-06"))
    client = sign_in(role)
    page = client.get(review_address(waiting))
    may_review = role in ("manager", "reviewer")
    assert page.status_code == (403 if role == "floor" else 200)
    assert ("Sign the decision" in page.content.decode()) is may_review
    answer = client.post(review_address(waiting), review_typed())
    assert answer.status_code == (302 if may_review else 403)
    assert CertificateReview.objects.exists() is may_review
    assert Signature.objects.exists() is may_review


def test_the_review_shows_what_the_program_found(
    waiting: CertificateReceived, sign_in: SignIn, time_machine: Any, settings: Any
) -> None:
    time_machine.move_to(at("2024-02-06"))
    path = Path(settings.MEDIA_ROOT) / str(waiting.file.name)
    path.write_bytes(path.read_bytes() + b"x")
    text = sign_in("reviewer").get(review_address(waiting)).content.decode()
    assert "was changed since it was received" in text
    assert "There are no earlier values to compare with" in text
    assert "All 3 elements in use have a value." in text
    answer = sign_in("reviewer").post(review_address(waiting), review_typed())
    assert answer.status_code == 422
    assert "was changed since it was received" in answer.context["form"].errors["decision"][0]
    assert not CertificateReview.objects.exists()


@pytest.mark.parametrize(
    ("changes", "name", "sentence"),
    [
        ({"password": "wrong"}, "password", "The password is not right"),
        ({"password": ""}, "password", "This field is required."),
        ({"answer_values": ""}, "answer_values", "This field is required."),
        ({"answer_conditions": "no"}, "remark_conditions", "say why that does no harm"),
        ({"answer_identity": "no"}, "decision", "“Identity” was answered no."),
        ({"decision": "reject"}, "reason", "A rejection needs its reason"),
    ],
)
def test_a_refused_review_keeps_the_answers_and_not_the_password(
    changes: dict[str, str], name: str, sentence: str, waiting: CertificateReceived, sign_in: SignIn,
    time_machine: Any,
) -> None:  # fmt: skip
    time_machine.move_to(at("2024-02-06"))
    given = review_typed(remark_points="seen them all", **changes)
    answer = sign_in("reviewer").post(review_address(waiting), given)
    text = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in answer.context["form"].errors[name][0]
    assert 'value="seen them all"' in text
    assert PASSWORD not in text
    assert not Signature.objects.exists()


def test_accepted_from_the_page_the_standard_may_be_used(
    waiting: CertificateReceived, blocks: Standard, sign_in: SignIn, time_machine: Any
) -> None:
    time_machine.move_to(at("2024-02-06"))
    client = sign_in("reviewer")
    assert client.post(review_address(waiting), review_typed()).status_code == 302
    assert require_usable(blocks, at("2024-02-07")).pk == waiting.calibration_id
    text = client.get(review_address(waiting)).content.decode()
    assert "Accepted by the reviewer" in text
    assert Signature.objects.get().record_sha256 in text
    assert "the chain ends here" in text
    again = client.post(review_address(waiting), review_typed())
    assert again.status_code == 409
    assert "was accepted by the reviewer before" in again.content.decode()


def test_the_chain_page_names_the_day_of_every_link(working: Calibration, sign_in: SignIn) -> None:
    page = sign_in("auditor").get(reverse("calibration-chain", args=[working.pk]), {"on": "2024-09-02"})
    text = page.content.decode()
    for tag, day in (("GB-03", "2024-09-02"), ("GB-02", "2024-08-01"), ("GB-01", "2024-05-01")):
        assert f'aria-label="Checks of {tag} on {day}"' in text
    assert text.count("not checked yet</b>") == 9
    assert text.count("holds</b>") == 18
    assert "broken</b>" not in text
    late = sign_in("auditor").get(reverse("calibration-chain", args=[working.pk]), {"on": "2026-01-01"})
    assert "The chain is broken on" in late.content.decode()
    assert [fault.code for fault in late.context["faults"]] == ["F01"]


def test_the_page_of_a_standard_shows_its_chain_and_who_relies(
    reference: Calibration, master: Calibration, sign_in: SignIn
) -> None:
    asked = {"on": "2024-09-02"}
    text = sign_in("auditor").get(reverse("standard", args=[master.standard_id]), asked).content.decode()
    assert text.index("Relied on by") < text.index(
        f'href="{reverse("standard", args=[reference.standard_id])}"'
    )
    assert "Northern calibration laboratory" in text
    rows = sign_in("auditor").get(reverse("standards")).context["table"].rows
    assert {row.name: row.cells["relied_on_by"] for row in rows} == {"GB-01": "GB-02", "GB-02": ""}


@pytest.mark.parametrize("role", [*ROLES, None])
def test_who_gets_the_file(
    role: str | None, waiting: CertificateReceived, sign_in: SignIn, client: Client
) -> None:
    answer = (sign_in(role) if role else client).get(reverse("certificate-file", args=[waiting.pk]))
    assert answer.status_code == {None: 302, "floor": 403}.get(role, 200)
    if answer.status_code == 200:
        assert b"".join(answer.streaming_content) == PDF.content  # type: ignore[attr-defined]
        assert answer["Content-Type"] == "application/pdf"
        assert answer["Content-Disposition"] == 'inline; filename="N-1.pdf"'
        assert answer["X-Content-Type-Options"] == "nosniff"
        assert "script" not in answer["Content-Security-Policy"]
        assert "no-store" in answer["Cache-Control"]


def test_the_store_is_open_to_nobody(waiting: CertificateReceived, sign_in: SignIn) -> None:
    for path in (f"/{waiting.file.name}", f"/media/{waiting.file.name}", f"/static/{waiting.file.name}"):
        assert sign_in("manager").get(path).status_code == 404


def test_a_changed_file_is_not_given_as_that_certificate(
    waiting: CertificateReceived, sign_in: SignIn, settings: Any
) -> None:
    (Path(settings.MEDIA_ROOT) / str(waiting.file.name)).write_bytes(b"%PDF-1.4 another %%EOF")
    answer = sign_in("auditor").get(reverse("certificate-file", args=[waiting.pk]))
    assert answer.status_code == 409
    assert "was changed since it was received" in answer.content.decode()


def test_a_scan_is_added_later(blocks: Standard, receive: Receive, sign_in: SignIn) -> None:
    row = receive(blocks, file=None)
    client, add = sign_in("technician"), reverse("certificate-attach", args=[row.pk])
    assert add in client.get(review_address(row)).content.decode()
    wrong = client.post(add, {"file": scan(b"MZ", "virus.pdf")})
    assert (wrong.status_code, "is no PDF" in wrong.content.decode()) == (422, True)
    assert client.get(reverse("certificate-file", args=[row.pk])).status_code == 404
    assert client.post(add, {"file": scan()}).status_code == 302
    assert client.get(reverse("certificate-file", args=[row.pk])).status_code == 200
    assert "has its file already" in client.post(add, {"file": scan()}).content.decode()


def test_the_list_of_certificates(
    master: Calibration,
    blocks: Standard,
    receive: Receive,
    sign_in: SignIn,
    django_assert_max_num_queries: Any,
) -> None:
    from datetime import date

    on = date(2024, 3, 1)
    for number in range(5):
        receive(blocks, number=f"W-{number}", calibrated_on=on, issued_on=on, now=at("2024-03-02"))
    client = sign_in("auditor")
    with django_assert_max_num_queries(8):
        page = client.get(reverse("certificates-received"))
    assert [row.number for row in page.context["waiting"]] == [f"W-{number}" for number in range(5)]
    assert [row.number for row in page.context["page"]] == ["N-1"]


def test_issuers_and_their_scopes_from_the_page(sign_in: SignIn, time_machine: Any) -> None:
    time_machine.move_to(at("2024-06-01"))
    client = sign_in("reviewer")
    answer = client.post(reverse("issuer-new"), {"name": "Southern laboratory", "kind": "accredited"})
    issuer = Issuer.objects.get()
    assert answer["Location"] == reverse("issuer", args=[issuer.pk])
    given = {
        "body": "National body", "number": "K-1", "quantity": "ring", "range_low_mm": "1", "range_high_mm": "0,5",
        "cmc_constant_mm": "0.0005", "cmc_per_length": "0.000001", "valid_from": "2023-01-01",
        "lapses_on": "2025-12-31",
    }  # fmt: skip
    add = reverse("scope-new", args=[issuer.pk])
    refused = client.post(add, given)
    assert refused.status_code == 422
    assert "Expected the range to end after it begins" in refused.context["form"].errors["range_high_mm"][0]
    marked = {"range_low_mm": "15°", "range_high_mm": "90°"}
    assert set(client.post(add, {**given, **marked}).context["form"].errors) == set(marked)
    of_angles = {**given, **marked, "quantity": "angle", "number": "K-2", "cmc_per_length": "0"}
    assert client.post(add, of_angles).status_code == 302
    assert Accreditation.objects.get(number="K-2").range_high_mm == 324_000
    assert client.post(add, {**given, "range_high_mm": "100"}).status_code == 302
    line = Accreditation.objects.get(number="K-1")
    withdraw = reverse("scope-withdraw", args=[line.pk])
    assert client.post(withdraw, {"valid_from": "2024-05-01", "reason": "Suspended."}).status_code == 302
    again = client.post(withdraw, {"valid_from": "2024-05-02", "reason": "Again."})
    assert "nothing to withdraw" in again.content.decode()
    address = reverse("issuer", args=[issuer.pk])
    assert [
        len(client.get(address, {"on": day}).context["scopes"]) for day in ("2022-12-31", "2024-04-30")
    ] == [0, 2]
    left = client.get(address, {"on": "2024-05-01"}).context["scopes"]
    assert [one["row"].number for one in left] == ["K-2"]
    assert "Southern laboratory" in client.get(reverse("issuers")).content.decode()
    taken = client.post(reverse("issuer-new"), {"name": "Southern laboratory", "kind": "maker"})
    assert (taken.status_code, Issuer.objects.count()) == (422, 1)


@pytest.mark.parametrize(
    "name", ["issuer-new", "scope-new", "scope-withdraw", "certificate-attach", "certificate-receive"]
)
@pytest.mark.parametrize("role", ROLES)
def test_who_may_change(
    name: str,
    role: str,
    scope: Accreditation,
    waiting: CertificateReceived,
    blocks: Standard,
    sign_in: SignIn,
) -> None:
    args = {
        "issuer-new": [],
        "scope-new": [scope.issuer_id],
        "scope-withdraw": [scope.pk],
        "certificate-attach": [waiting.pk],
        "certificate-receive": [blocks.pk],
    }
    may = {"manager", "reviewer"} | ({"technician"} if name.startswith("certificate") else set())
    answer = sign_in(role).get(reverse(name, args=args[name]))
    assert answer.status_code == (200 if role in may else 403)
