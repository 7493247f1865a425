"""Pages of the register: who sees them, what they say as of a day, what they cost, what they refuse."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from labsys.accounts.models import Person
from labsys.laboratory.models import Place
from standards.register import operations as acts
from standards.register import panels
from standards.register.models import Calibration, Standard
from standards.register.queries import state_of
from tests.standards.conftest import at

Calibrate = Callable[..., Calibration]
SignIn = Callable[[str], Client]


@pytest.fixture
def history(blocks: Standard, calibrate: Calibrate) -> Standard:
    calibrate(blocks, "2024-02-01", deviation="0.0001")
    calibrate(blocks, "2025-01-10", deviation="0.0003", accepted="2025-01-17")
    return blocks


@pytest.mark.parametrize("name", ["standards", "standard"])
@pytest.mark.parametrize(
    ("role", "status"),
    [("manager", 200), ("technician", 200), ("reviewer", 200), ("auditor", 200), ("floor", 403), (None, 302)],
)
def test_who_reads(
    name: str, role: str | None, status: int, history: Standard, sign_in: SignIn, client: Client
) -> None:
    address = reverse(name, args=[history.pk] if name == "standard" else [])
    assert (sign_in(role) if role else client).get(address).status_code == status


MANAGERS = ("standard-new", "standard-change", "element-new", "element-change")
KEEPERS = ("standard-state", "standard-return", "element-use")


@pytest.mark.parametrize("name", [*MANAGERS, *KEEPERS])
@pytest.mark.parametrize("role", ["manager", "technician", "reviewer", "auditor", "floor"])
def test_who_acts(name: str, role: str, history: Standard, sign_in: SignIn) -> None:
    element = history.elements.get(label="25")
    args = {"standard-new": [], "element-use": [element.pk], "element-change": [element.pk]}.get(
        name, [history.pk]
    )
    may = role == "manager" or (name in KEEPERS and role in ("technician", "reviewer"))
    answer = sign_in(role).get(reverse(name, args=args))
    assert answer.status_code == (200 if may else 403)


def test_the_page_shows_the_value_in_force_on_a_day(history: Standard, sign_in: SignIn) -> None:
    address = reverse("standard", args=[history.pk])
    client = sign_in("auditor")

    def told(day: str) -> str:
        return " ".join(client.get(address, {"on": day}).content.decode().replace("\xa0", " ").split())

    before, between, after = told("2024-01-20"), told("2024-06-01"), told("2025-02-01")
    assert "No calibration of GB-01 was reviewed and accepted by 2024-01-20" in before
    assert "No accepted value on that day" in before
    assert "+0.1 <span" in between
    assert "+0.3 <span" not in between
    assert "its calibration holds through 2025-02-01" in between
    assert "+0.3 <span" in after
    assert "1 earlier" in after
    assert "held through 2026-01-10; it was to be used on 2026-01-11" in told("2026-01-11")


def test_a_day_that_is_none_is_said_beside_the_field(history: Standard, sign_in: SignIn) -> None:
    answer = sign_in("auditor").get(reverse("standard", args=[history.pk]), {"on": "yesterday"})
    assert answer.status_code == 200
    assert "Enter a valid date." in answer.content.decode()


def test_the_list_says_what_is_due_and_narrows(
    history: Standard,
    make_standard: Callable[..., Standard],
    calibrate: Calibrate,
    sign_in: SignIn,
    time_machine: Any,
) -> None:
    time_machine.move_to(at("2025-12-20"))
    old = make_standard("GB-02", serial="4712", name="Second set")
    calibrate(old, "2024-06-01")
    make_standard("RG-01", serial="R1", kind="ring", name="Ring 20 mm")
    client, address = sign_in("technician"), reverse("standards")

    def tags(**asked: str) -> list[str]:
        return [row.name for row in client.get(address, asked).context["table"].rows]

    assert tags() == ["GB-02", "GB-01", "RG-01"]
    assert tags(order="-tag") == ["RG-01", "GB-02", "GB-01"]
    assert tags(due="overdue") == ["GB-02"]
    assert tags(due="soon") == ["GB-01"]
    assert tags(due="none") == ["RG-01"]
    assert tags(state="new") == ["RG-01"]
    assert tags(kind="ring") == ["RG-01"]
    assert tags(text="second 4712") == ["GB-02"]
    assert tags(text="second 4711") == []
    calibrate(old, "2025-12-01", accepted=None)
    assert tags(review="waiting") == ["GB-02"]
    assert "2025-06-01, overdue" in client.get(address).content.decode()


def test_the_list_as_a_file_holds_what_is_shown(
    history: Standard, sign_in: SignIn, time_machine: Any
) -> None:
    time_machine.move_to(at("2025-12-20"))
    answer = sign_in("auditor").get(reverse("standards"), {"export": "csv"})
    lines = answer.getvalue().decode("utf-8-sig").splitlines()
    assert lines[0] == "Tag,Name,Place,State,Due,Review,Relied on by"
    assert lines[1] == 'GB-01,"Gauge block set, 3 pieces",Cabinet 1,in service,2026-01-10,,'


def test_what_the_list_costs_does_not_grow(
    make_standard: Callable[..., Standard],
    calibrate: Calibrate,
    sign_in: SignIn,
    django_assert_max_num_queries: Any,
) -> None:
    for number in range(12):
        calibrate(make_standard(f"GB-{number:02}", serial=f"{number}"), "2024-02-01")
    client = sign_in("technician")
    with django_assert_max_num_queries(10):
        assert len(client.get(reverse("standards")).context["table"].rows) == 12


def test_what_a_standard_costs_does_not_grow(
    history: Standard, calibrate: Calibrate, sign_in: SignIn, django_assert_max_num_queries: Any
) -> None:
    for month in range(1, 9):
        calibrate(history, f"2025-0{month}-20")
    client = sign_in("technician")
    with django_assert_max_num_queries(32):
        assert client.get(reverse("standard", args=[history.pk])).status_code == 200


def test_registering_from_the_page(cabinet: Place, sign_in: SignIn) -> None:
    given = {
        "tag": "RG-01", "kind": "ring", "name": "Ring", "serial": "R1", "place": "cabinet 1", "interval_months": "24",
        "elements": "20,5; R 20.5\n30", "functions": ["inside", "small_bore"], "expansion_per_k": "0.0000115",
    }  # fmt: skip
    answer = sign_in("manager").post(reverse("standard-new"), given)
    row = Standard.objects.get(tag__text="RG-01")
    assert answer["Location"] == reverse("standard", args=[row.pk])
    elements = [(one.label, f"{one.nominal_mm.normalize():f}", one.functions) for one in row.elements.all()]
    assert elements == [("R 20.5", "20.5", ["inside", "small_bore"]), ("30", "30", ["inside", "small_bore"])]


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"tag": "gb-01"}, "The tag gb-01 is taken."),
        ({"place": "Nowhere"}, "No place is called “Nowhere”."),
        ({"interval_months": "0"}, "greater than or equal to 1"),
        ({"elements": "20; a\nx"}, "“x”: Enter a number."),
        ({"elements": '20\n1"'}, "“1&quot;”: Enter a number."),
        ({"elements": "20\n20"}, "already has an element with that label"),
        ({"name": ""}, "This field is required."),
    ],
)
def test_a_refused_form_says_why_and_keeps_what_was_typed(
    change: dict[str, str], sentence: str, blocks: Standard, sign_in: SignIn
) -> None:
    given = {
        "tag": "RG-01",
        "kind": "ring",
        "name": "Ring",
        "serial": "R1-typed",
        "place": "Cabinet 1",
        "interval_months": "12",
    }
    answer = sign_in("manager").post(reverse("standard-new"), {**given, **change})
    text = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in text
    assert 'value="R1-typed"' in text
    assert Standard.objects.count() == 1


def test_out_of_service_and_back_from_the_page(history: Standard, sign_in: SignIn, time_machine: Any) -> None:
    time_machine.move_to(at("2025-03-01"))
    client = sign_in("technician")
    state, back = (reverse(name, args=[history.pk]) for name in ("standard-state", "standard-return"))
    assert client.post(state, {"state": "out-of-service", "reason": "Dropped."}).status_code == 302
    assert state_of(history, at("2025-03-01", 10)) == "out-of-service"
    page = client.get(reverse("standard", args=[history.pk])).content.decode()
    assert "“out of service” on 2025-03-01" in page
    assert back in page
    time_machine.move_to(at("2025-03-02"))
    client = sign_in("technician")  # a sign-in doesn't last over the night
    assert client.post(back, {"verification": "Compared with GB-02."}).status_code == 302
    assert state_of(history, at("2025-03-02", 10)) == "in-service"


def test_nothing_to_return_with_is_said_beside_the_field(
    history: Standard, technician: Person, sign_in: SignIn, time_machine: Any
) -> None:
    acts.change_state(standard=history, state="away", reason="Sent.", by=technician, now=at("2025-03-01"))
    time_machine.move_to(at("2026-03-01"))
    answer = sign_in("technician").post(
        reverse("standard-return", args=[history.pk]), {"verification": "Looked at."}
    )
    assert answer.status_code == 422
    assert "has no accepted calibration that still holds" in answer.content.decode()
    assert answer.context["form"].errors["verification"]


def test_a_block_leaves_its_set_from_the_page(history: Standard, sign_in: SignIn, time_machine: Any) -> None:
    time_machine.move_to(at("2025-03-01"))
    client = sign_in("technician")
    address = reverse("element-use", args=[history.elements.get(label="25").pk])
    assert client.post(address, {"reason": "Scratched."}).status_code == 302
    assert "withdrawn" in client.get(reverse("standard", args=[history.pk])).content.decode()
    time_machine.move_to(at("2025-03-02"))
    client = sign_in("technician")  # a sign-in doesn't last over the night
    assert "back into use" in client.get(address).content.decode()


def test_higher_topics_add_panels_and_columns(
    history: Standard, sign_in: SignIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(panels, "_panels", dict(panels._panels))
    monkeypatch.setattr(panels, "_columns", dict(panels._columns))
    seen = []

    def sessions(asked: panels.Asked) -> panels.Panel:
        seen.append((asked.standard, asked.at.date().isoformat(), asked.person.username))
        context = {"node": None, "faults": (), "relying": ((history.pk, "used by S-1"),)}
        return panels.Panel(
            "sessions", "Used in sessions", "standards/traceability/chain_panel.html", context
        )

    panels.register(slug="sessions", provider=sessions, order=200)
    panels.register(slug="silent", provider=lambda asked: None)
    panels.register_column(
        panels.ListColumn("sessions", "Sessions", lambda ids, at: {history.pk: "17 sessions"})
    )
    client = sign_in("auditor")
    text = client.get(reverse("standard", args=[history.pk]), {"on": "2025-02-01"}).content.decode()
    assert text.index("Chain of traceability") < text.index("Used in sessions") < text.index("used by S-1")
    assert seen == [(history, "2025-02-01", "auditor")]
    assert "17 sessions" in client.get(reverse("standards")).content.decode()


def test_an_empty_register_says_what_to_do(sign_in: SignIn) -> None:
    assert "Register the first one" in sign_in("manager").get(reverse("standards")).content.decode()
    assert reverse("standard-new") not in sign_in("auditor").get(reverse("standards")).content.decode()


def test_help_and_the_place_are_there(history: Standard, sign_in: SignIn) -> None:
    page = sign_in("technician").get(reverse("standards"))
    assert [(place.name, place.current) for place in page.context["places"] if place.name == "Standards"] == [
        ("Standards", True)
    ]
    assert page.context["help_link"].title == "Standards"
    assert "seven questions" in sign_in("technician").get("/help/standards/").content.decode()


def test_a_change_from_the_page_starts_from_what_is_written(history: Standard, sign_in: SignIn) -> None:
    client, address = sign_in("manager"), reverse("standard-change", args=[history.pk])
    form = client.get(address).context["form"]
    given = {name: form[name].value() or "" for name in form.fields}
    assert (given["interval_months"], given["place"], given["serial"]) == (12, "Cabinet 1", "4711")
    unchanged = client.post(address, {**given, "reason": "None."})
    assert "is what is written already" in unchanged.content.decode()
    assert (
        client.post(address, {**given, "expansion_per_k": "0,0000115", "reason": "Data sheet."}).status_code
        == 302
    )
    history.refresh_from_db()
    assert str(history.expansion_per_k) == "0.000011500"


def test_a_nominal_that_stands_is_said_beside_the_field(history: Standard, sign_in: SignIn) -> None:
    element = history.elements.get(label="25")
    client, address = sign_in("manager"), reverse("element-change", args=[element.pk])
    form = client.get(address).context["form"]
    given = {name: form[name].value() or "" for name in form.fields}
    assert given["nominal_mm"] == "25"
    answer = client.post(address, {**given, "nominal_mm": "25.4", "reason": "Inch."})
    assert "its nominal stands" in answer.context["form"].errors["nominal_mm"][0]
    assert client.post(address, {**given, "serial": "B-7", "reason": "Engraved."}).status_code == 302
    element.refresh_from_db()
    assert element.serial == "B-7"
