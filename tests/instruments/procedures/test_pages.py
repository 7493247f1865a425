"""The pages: reading, drafting section by section, faults beside their fields, two side by side, signing."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from instruments.procedures.content import laid_out, parse
from instruments.procedures.models import Procedure, Revision
from instruments.procedures.queries import content_of, revision_in_force
from labsys.accounts.models import Person
from tests import laboratory
from tests.laboratory import PASSWORD, Lab, shipped


@pytest.fixture
def enter(client: Client) -> Callable[[Person], Client]:
    def do(person: Person) -> Client:
        client.force_login(person)
        return client

    return do


def current(row: Revision) -> Revision:
    return Revision.objects.select_related("procedure").get(pk=row.pk)


def typed(client: Client, url: str, **changes: Any) -> dict[str, Any]:
    """Give what a browser would send back from the form at ``url``, with some fields typed over."""
    form = client.get(url).context["form"]
    data: dict[str, Any] = {}
    for field in form:
        value = field.value()
        if value is not None and value is not False:
            data[field.html_name] = "on" if value is True else value
    for name, value in changes.items():
        data.pop(name, None) if value is None else data.__setitem__(name, value)
    return data


def test_the_list_says_what_is_in_force_and_what_is_drafted(
    lab: Lab, draft: Callable[..., Revision], enter: Callable[..., Client]
) -> None:
    draft()
    page = enter(lab.auditor).get(reverse("procedures")).content.decode()
    assert (
        "CAL-1 Calipers" in page
        and "revision 1</a> since" in page
        and "revision 2</a> by The technician" in page
    )
    assert "Start a procedure" not in page


def test_the_list_asks_the_same_number_of_questions_however_many_there_are(
    lab: Lab, enter: Callable[..., Client], django_assert_num_queries: Any
) -> None:
    client = enter(lab.auditor)
    client.get(reverse("procedures"))
    for number in range(2, 7):
        Procedure.objects.create(code=f"CAL-{number}", title="Empty", family=lab.family)
    with django_assert_num_queries(6):  # session, person, permissions (two), procedures, revisions
        client.get(reverse("procedures"))


def test_a_revision_reads_like_a_document_not_like_json(lab: Lab, enter: Callable[..., Client]) -> None:
    laboratory.caliper_model(lab)
    response = enter(lab.auditor).get(reverse("revision", args=[lab.revision.pk]))
    page = response.content.decode()
    for text in (
        "Looks before measuring",
        "The smallest reading while the caliper is rocked a little",
        "Jaw tips and knife-edges cut",
        "From 1\u00a0mm to under 50\u00a0mm.",
        "simple acceptance, accuracy ratio at least 4 (test value uncertainty)",
        "not confirmed",
        "The reviewer, reviewer, signed",
        "±0.03\u00a0mm",
        lab.revision.content_sha256,
    ):
        assert text in page, text
    assert '"looks":' not in page and "&quot;looks&quot;" not in page
    assert ">Change<" not in page and "Approve</a>" not in page


def test_the_links_to_change_and_approve_follow_state_and_role(
    lab: Lab, draft: Callable[..., Revision], enter: Callable[..., Client]
) -> None:
    row = draft()
    seen: dict[str, tuple[bool, bool, bool]] = {}
    for person in (lab.technician, lab.reviewer, lab.auditor):
        page = enter(person).get(reverse("revision", args=[row.pk])).content.decode()
        old = enter(person).get(reverse("revision", args=[lab.revision.pk])).content.decode()
        seen[person.username] = (">Change<" in page, ">Approve<" in page, ">Retire<" in old)
        assert ">Change<" not in old
    assert seen == {
        "technician": (True, False, False),
        "reviewer": (True, True, True),
        "auditor": (False, False, False),
    }


READING = ("procedures", "procedure", "revision", "revision-difference", "revision-file")
DRAFTING = (
    "procedure-start",
    "revision-draft",
    "revision-replace",
    "revision-change-note",
    "section",
    "item",
    "new",
)
APPROVING = ("revision-approve", "revision-retire")
MAY = {
    "floor": (),
    "auditor": READING,
    "administrator": READING,
    "technician": (*READING, *DRAFTING),
    "reviewer": (*READING, *DRAFTING, *APPROVING),
    "manager": (*READING, *DRAFTING, *APPROVING),
}


def test_every_page_opens_for_those_who_may_and_for_nobody_else(
    lab: Lab, draft: Callable[..., Revision], client: Client
) -> None:
    row = draft()
    addresses = {
        "procedures": reverse("procedures"),
        "procedure": reverse("procedure", args=[row.procedure_id]),
        "procedure-start": reverse("procedure-start"),
        "revision-draft": reverse("revision-draft", args=[row.procedure_id]),
        "section": reverse("revision-section", args=[row.pk, "points"]),
        "item": reverse("revision-item", args=[row.pk, "looks", 2]),
        "new": reverse("revision-item-new", args=[row.pk, "budget"]),
    }
    for name in (*READING, *DRAFTING, *APPROVING):
        address = addresses.get(name) or reverse(name, args=[row.pk])
        assert client.get(address).status_code == 302, "everything needs a sign-in"
        for role, allowed in MAY.items():
            client.force_login(getattr(lab, role))
            expected = 200 if name in allowed else 403
            assert client.get(address).status_code == expected, (name, role)
        client.logout()


SECTIONS = ["scope", "reading", "points", "windows", "conditions", "coverage", "rule"]


def test_sending_back_a_section_unchanged_changes_nothing(
    lab: Lab, draft: Callable[..., Revision], enter: Callable[..., Client]
) -> None:
    row, client = draft(), enter(lab.technician)
    for section in SECTIONS:
        url = reverse("revision-section", args=[row.pk, section])
        response = client.post(url, typed(client, url))
        assert response.status_code == 302, (section, response.context and response.context["form"].errors)
        assert response["Location"].endswith(f"#{section}")
        assert current(row).content == row.content, section
    for items, count in (("looks", 14), ("bands", 5), ("budget", 8)):
        for index in range(count):
            url = reverse("revision-item", args=[row.pk, items, index])
            response = client.post(url, typed(client, url))
            assert response.status_code == 302, (
                items,
                index,
                response.context and response.context["form"].errors,
            )
            assert current(row).content == row.content, (items, index)
        assert client.get(reverse("revision-item", args=[row.pk, items, count])).status_code == 404


CHANGES: list[tuple[str, dict[str, Any], Callable[[Any], Any], Any]] = [
    ("scope", {"cautions": "Sharp.\n\n  Heavy. "}, lambda c: c.cautions, ("Sharp.", "Heavy.")),
    ("reading", {"spread_limit_mm": "0,02"}, lambda c: str(c.spread_limit_mm), "0.02"),
    ("reading", {"zero__fixed": "on"}, lambda c: c.zero.fixed, True),
    ("reading", {"readable_parts__dial": "10"}, lambda c: c.readable_parts["dial"], 10),
    ("points", {"points__low_share": "30"}, lambda c: str(c.points.low_share), "0.3"),
    ("points", {"points__places": ["near_beam", "tips"]}, lambda c: c.points.places, ("near_beam", "tips")),
    (
        "windows",
        {"points__windows__inside__prefer_mm": "30"},
        lambda c: str(c.points.windows["inside"].prefer_mm),
        "30",
    ),
    ("conditions", {"references__U_per_mm": "7.5"}, lambda c: str(c.references.U_per_mm), "0.0000075"),
    ("coverage", {"probability": "95", "digits": "1"}, lambda c: (c.probability, c.digits), (0.95, 1)),
    (
        "coverage",
        {"repeatability__s_mm": "", "repeatability__degrees_of_freedom": ""},
        lambda c: c.repeatability,
        None,
    ),
    (
        "rule",
        {"rule__kind": "guarded", "rule__view": "calibration", "rule__g": "0.5"},
        lambda c: dict(c.rule),
        {"kind": "guarded", "view": "calibration", "g": "0.5"},
    ),
    (
        "rule",
        {"rule__kind": "simple", "rule__view": "test_value", "rule__min_ratio": ""},
        lambda c: dict(c.rule),
        {"kind": "simple", "view": "test_value", "min_ratio": None},
    ),
    (
        "rule",
        {"rule__kind": "prescribed", "rule__view": "test_value", "rule__document": "ISO 13385-1:2019, 6"},
        lambda c: dict(c.rule),
        {"kind": "prescribed", "view": "test_value", "document": "ISO 13385-1:2019, 6"},
    ),
]


def test_a_changed_section_says_what_was_typed_and_nothing_else_changes(
    lab: Lab, draft: Callable[..., Revision], enter: Callable[..., Client]
) -> None:
    row, client = draft(), enter(lab.technician)
    for section, changes, read, expected in CHANGES:
        url = reverse("revision-section", args=[row.pk, section])
        response = client.post(url, typed(client, url, **changes))
        assert response.status_code == 302, (section, changes, response.context["form"].errors)
        assert read(content_of(current(row))) == expected, (section, changes)
    assert content_of(current(row)).looks == shipped().looks


def test_a_function_whose_window_is_emptied_gets_no_point_any_more(
    lab: Lab, draft: Callable[..., Revision], enter: Callable[..., Client]
) -> None:
    row, client = draft(), enter(lab.technician)
    url = reverse("revision-section", args=[row.pk, "windows"])
    empty = {f"points__windows__step__{name}": "" for name in ("from_mm", "to_mm", "prefer_mm")}
    assert client.post(url, typed(client, url, **empty)).status_code == 302
    rules = content_of(current(row)).points
    assert rules is not None and set(rules.windows) == {"inside", "depth", "small_bore"}


WRONG: list[tuple[str, dict[str, Any], str, str]] = [
    (
        "conditions",
        {"conditions__temperature_high_c": "17"},
        "conditions__temperature_high_c",
        "a number above 18",
    ),
    ("conditions", {"references__U_mm": "three"}, "references__U_mm", "Expected a number such as 0.02"),
    ("reading", {"repeats": "0"}, "repeats", "greater than or equal to 1"),
    ("reading", {"zero__allowed_steps": "11"}, "zero__allowed_steps", "a whole number from 0 to 10"),
    ("reading", {"reading_rules__depth": ""}, "reading_rules__depth", "what counts as the reading"),
    ("points", {"points__far_share": "120"}, "points__far_share", "a number above 0 to 1"),
    (
        "windows",
        {"points__windows__step__to_mm": ""},
        "points__windows__step__to_mm",
        "a number such as 0.02",
    ),
    (
        "coverage",
        {"repeatability__degrees_of_freedom": ""},
        "repeatability__degrees_of_freedom",
        "a whole number",
    ),
    ("rule", {"rule__kind": "guarded", "rule__g": ""}, "rule__g", "a number"),
    ("rule", {"rule__kind": "prescribed"}, "rule__document", "the specification with edition and clause"),
    (
        "rule",
        {"rule__kind": "specific_risk", "rule__max_false_accept": "0.6"},
        "rule__max_false_accept",
        "at most 0.5",
    ),
]


def test_a_fault_stands_beside_its_field_and_nothing_typed_is_lost(
    lab: Lab, draft: Callable[..., Revision], enter: Callable[..., Client]
) -> None:
    row, client = draft(), enter(lab.technician)
    for section, changes, field, sentence in WRONG:
        url = reverse("revision-section", args=[row.pk, section])
        response = client.post(url, typed(client, url, **changes))
        assert response.status_code == 422, (section, changes)
        form = response.context["form"]
        assert sentence in " ".join(form.errors[field]), (section, form.errors)
        for name, value in changes.items():
            assert (form[name].value() or "") == value
        assert current(row).content == row.content


def test_looks_are_added_moved_and_removed(
    lab: Lab, draft: Callable[..., Revision], enter: Callable[..., Client]
) -> None:
    row, client = draft(), enter(lab.technician)

    def codes() -> list[str]:
        return [look.code for look in content_of(current(row)).looks]

    before = codes()
    url = reverse("revision-item-new", args=[row.pk, "looks"])
    sent = typed(client, url, code="magnet", text="Not magnetic.", only_for=["digital"], ends_job="on")
    assert client.post(url, sent).status_code == 302
    assert codes() == [*before, "magnet"]
    last = reverse("revision-item", args=[row.pk, "looks", len(before)])
    assert client.post(last, {"act": "earlier"}).status_code == 302
    assert codes() == [*before[:-1], "magnet", before[-1]]
    moved = reverse("revision-item", args=[row.pk, "looks", len(before) - 1])
    assert client.post(moved, {"act": "later"}).status_code == 302
    assert client.post(last, {"act": "remove"}).status_code == 302
    assert codes() == before
    refused = client.post(url, typed(client, url, code="damage", text="Again."))
    assert refused.status_code == 422
    assert "a code used once" in refused.context["form"].errors["code"][0]


def test_ranges_stay_in_order_and_a_component_asks_for_what_its_kind_needs(
    lab: Lab, draft: Callable[..., Revision], enter: Callable[..., Client]
) -> None:
    row, client = draft(), enter(lab.technician)
    url = reverse("revision-item-new", args=[row.pk, "bands"])
    sent = typed(
        client, url, range_up_to_mm="250", least_points="4", lengths_mm="41,3; 131.4 200; 250", lengths_in=""
    )
    assert client.post(url, sent).status_code == 302
    rules = content_of(current(row)).points
    assert rules is not None
    bands = rules.bands
    assert [int(band.range_up_to_mm) for band in bands] == [160, 210, 250, 310, 620, 1020]
    assert [str(length) for length in bands[2].lengths_mm] == ["41.3", "131.4", "200", "250"]

    url = reverse("revision-item-new", args=[row.pk, "budget"])
    assert b"joints between wrung blocks" in client.get(url).content.lower()
    url += "?kind=drift"
    form = client.get(url).context["form"]
    assert (
        set(form.fields) >= {"constant_mm_per_year", "per_mm_per_year"} and "half_width_mm" not in form.fields
    )
    sent = typed(client, url, name="ring drift", source="two calibrations", per_mm_per_year="0.5")
    assert client.post(url, sent).status_code == 302
    assert content_of(current(row)).budget[-1] == {
        "kind": "drift", "name": "ring drift", "source": "two calibrations", "per_mm_per_year": "5e-07",
    }  # fmt: skip
    taken = client.post(url, typed(client, url, name="reading"))
    assert "every component named once" in taken.context["form"].errors["name"][0]


def test_a_draft_that_moved_on_is_not_overwritten(
    lab: Lab, draft: Callable[..., Revision], enter: Callable[..., Client]
) -> None:
    row, client = draft(), enter(lab.technician)
    url = reverse("revision-section", args=[row.pk, "reading"])
    first = typed(client, url, repeats="5")
    second = typed(client, url, repeats="7")
    assert client.post(url, first).status_code == 302
    late = client.post(url, second)
    assert late.status_code == 422
    assert "changed by somebody else" in late.context["form"].non_field_errors()[0]
    assert late.context["form"]["repeats"].value() == "7"
    assert content_of(current(row)).repeats == 5


def test_an_approved_revision_answers_an_attempt_to_change_it_with_a_sentence(
    lab: Lab, enter: Callable[..., Client]
) -> None:
    client = enter(lab.manager)
    for name in ("revision-replace", "revision-change-note", "revision-approve"):
        response = client.get(reverse(name, args=[lab.revision.pk]))
        assert response.status_code == 409
        assert "stays as it was signed" in response.content.decode()
    response = client.post(reverse("revision-item", args=[lab.revision.pk, "looks", 0]), {"act": "remove"})
    assert response.status_code == 409
    assert content_of(current(lab.revision)) == shipped()


def test_a_procedure_is_started_drafted_from_what_ships_exported_and_drafted_from_the_file(
    lab: Lab, enter: Callable[..., Client]
) -> None:
    client = enter(lab.technician)
    sent = {"code": "CAL-9", "title": "Calipers, long", "family": lab.family.pk}
    response = client.post(reverse("procedure-start"), sent)
    procedure = Procedure.objects.get(code="CAL-9")
    assert response["Location"] == reverse("revision-draft", args=[procedure.pk])
    assert "last" not in dict(client.get(response["Location"]).context["form"].fields["base"].choices)
    assert client.post(response["Location"], {"base": "shipped", "change": ""}).status_code == 302
    row = procedure.revisions.get()
    file = client.get(reverse("revision-file", args=[row.pk]))
    assert file["Content-Disposition"] == 'attachment; filename="CAL-9-revision-1.json"'
    assert parse(file.content.decode()) == shipped()

    edited = laid_out(shipped(repeats=4))
    url = reverse("revision-replace", args=[row.pk])
    upload = SimpleUploadedFile("p.json", edited.encode(), "application/json")
    assert client.post(url, {"content": upload, "based_on": row.content_sha256}).status_code == 302
    assert content_of(current(row)).repeats == 4


def test_a_bad_file_is_refused_beside_its_field_with_the_place(
    lab: Lab, enter: Callable[..., Client]
) -> None:
    client = enter(lab.technician)
    url = reverse("revision-draft", args=[lab.revision.procedure_id])
    for content, sentence in (
        (b"\xff\xfe\x00", "no text"),
        (b"{", "found a fault: line 1"),
        (json.dumps({"format": 1, "scope": 3}).encode(), "at method: expected a value"),
        (b"", "empty"),
        (b" " * 900_000, "larger than any procedure"),
    ):
        upload = SimpleUploadedFile("p.json", content, "application/json")
        response = client.post(url, {"base": "file", "content": upload, "change": "from a file"})
        assert response.status_code == 422
        assert sentence in " ".join(response.context["form"].errors["content"]), content[:10]
    response = client.post(url, {"base": "file", "change": "forgot it"})
    assert "Choose the file" in response.context["form"].errors["content"][0]
    response = client.post(url, {"base": "last", "change": ""})
    assert "Say what changes" in response.context["form"].errors["change"][0]
    assert lab.revision.procedure.revisions.count() == 1


def test_two_revisions_side_by_side_show_what_differs_word_by_word(
    lab: Lab, enter: Callable[..., Client], draft: Callable[..., Revision]
) -> None:
    content = shipped(repeats=3)
    looks = (*content.looks[1:3], *content.looks[4:])  # one dropped at the front, one in the middle
    row = draft(
        content=shipped(repeats=3, looks=looks, rule={"kind": "guarded", "view": "test_value", "g": "1"})
    )
    client = enter(lab.auditor)
    page = client.get(reverse("revision-difference", args=[row.pk]))
    text = page.content.decode()
    assert page.context["count"] == 4
    assert "<del>1</del>" in text and "<ins>3</ins>" in text
    assert (
        text.count('<span class="flag">removed</span>') == 2
        and text.count('<span class="flag">changed</span>') == 2
    )
    assert "Relative humidity" not in text
    assert (
        "Relative humidity"
        in client.get(reverse("revision-difference", args=[row.pk]) + "?all").content.decode()
    )
    url = reverse("revision-difference", args=[row.pk])
    assert client.get(url + "?with=2").context["count"] == 0
    assert client.get(url + "?with=9").status_code == 404
    assert client.get(reverse("revision-difference", args=[lab.revision.pk])).status_code == 404


def test_signing_asks_for_the_password_and_shows_every_refusal_on_the_page(
    lab: Lab, enter: Callable[..., Client], draft: Callable[..., Revision]
) -> None:
    laboratory.caliper_model(lab)
    row = draft()
    client, url = enter(lab.reviewer), reverse("revision-approve", args=[row.pk])
    assert "Tried on the limits" in client.get(url).content.decode()
    sent = {"seen_sha256": row.content_sha256, "password": "wrong"}
    response = client.post(url, sent)
    assert response.status_code == 422 and "not right" in response.context["form"].errors["password"][0]
    assert 'value="wrong"' not in response.content.decode()
    sent["password"] = PASSWORD
    stale = client.post(url, {**sent, "seen_sha256": "0" * 64})
    assert "changed by somebody else" in stale.context["form"].non_field_errors()[0]
    assert client.post(url, sent).status_code == 302
    assert revision_in_force(lab.family, datetime.now(UTC)) == current(row)
    assert "Retire" in client.get(reverse("revision", args=[row.pk])).content.decode()


def test_who_wrote_on_the_draft_is_told_before_and_refused_after(
    lab: Lab, enter: Callable[..., Client], draft: Callable[..., Revision]
) -> None:
    row = draft(by=lab.reviewer)
    client, url = enter(lab.reviewer), reverse("revision-approve", args=[row.pk])
    assert "You wrote on this draft" in client.get(url).content.decode()
    response = client.post(url, {"seen_sha256": row.content_sha256, "password": PASSWORD})
    assert response.status_code == 422
    assert "can&#x27;t approve it" in response.content.decode()
    assert current(row).approved_at is None


def test_retiring_on_the_page_takes_a_reason(lab: Lab, enter: Callable[..., Client]) -> None:
    client, url = enter(lab.manager), reverse("revision-retire", args=[lab.revision.pk])
    assert client.post(url, {"reason": ""}).status_code == 422
    assert client.post(url, {"reason": "The line is closed."}).status_code == 302
    assert current(lab.revision).retired_at is not None
    assert "can't be calibrated" in client.get(reverse("procedures")).content.decode()
    again = client.post(url, {"reason": "Again."})
    assert "retired already" in again.context["form"].non_field_errors()[0]
