"""The pages on which gauges and models are written: they say what is wrong beside the field and keep what was typed."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from instruments.inventory.models import Gauge, GaugeModel
from instruments.inventory.queries import limits_for, state_of, whereabouts
from instruments.inventory.queries.limits import limits_of_model
from labsys.journal.queries import about
from labsys.laboratory.models import Department, Place
from labsys.metrology.units import Quantity

REASON = {"reason": "found at the yearly count"}


def sent(model: GaugeModel, department: Department, place: Place, **changes: Any) -> dict[str, Any]:
    return {
        "tag": "CAL-77",
        "model": str(model),
        "serial": "S-9",
        "department": department.pk,
        "place": place.name,
        "owner": "own",
        "calibration_needed": "on",
        **changes,
    }


@pytest.fixture
def technician_client(signed_in: Callable[[str], Client]) -> Client:
    return signed_in("technician")


def test_a_gauge_is_registered(
    technician_client: Client, model: GaugeModel, department: Department, place: Place
) -> None:
    answer = technician_client.post(reverse("gauge-register"), sent(model, department, place), follow=True)
    gauge = Gauge.objects.get()
    assert answer.redirect_chain[-1][0] == reverse("gauge", args=[gauge.pk])
    assert "CAL-77 is registered" in answer.content.decode()
    assert (gauge.serial, gauge.functions) == ("S-9", model.functions)


@pytest.mark.parametrize(
    ("field", "wrong", "says"),
    [
        ("tag", "cal-0001", "A tag stays with one item for life"),
        ("model", "Nobody X", "No model is called “Nobody X”"),
        ("place", "Nowhere", "No place is called “Nowhere”"),
        ("custodian", "nobody", "No person is called “nobody”"),
        ("department", "", "required"),
        ("functions", "small_bore", "has no function small_bore"),
    ],
)
def test_what_is_wrong_stands_beside_its_field(
    field: str,
    wrong: str,
    says: str,
    technician_client: Client,
    gauge: Gauge,
    model: GaugeModel,
    department: Department,
    place: Place,
) -> None:
    answer = technician_client.post(
        reverse("gauge-register"), {**sent(model, department, place), field: wrong}
    )
    assert answer.status_code == 422
    assert any(says in error for error in answer.context["form"].errors[field])
    body = answer.content.decode()
    assert "what you typed is kept" in body
    assert 'value="S-9"' in body
    assert Gauge.objects.count() == 1


def test_a_table_s_own_refusal_stands_on_top(
    technician_client: Client, model: GaugeModel, department: Department, place: Place
) -> None:
    answer = technician_client.post(
        reverse("gauge-register"), sent(model, department, place, calibration_needed="")
    )
    assert answer.status_code == 422
    assert "needs the reason why" in answer.content.decode()


def test_a_change_shows_what_stands_and_wants_a_reason(
    technician_client: Client, gauge: Gauge, model: GaugeModel, department: Department, place: Place
) -> None:
    address = reverse("gauge-change", args=[gauge.pk])
    shown = technician_client.get(address).content.decode()
    assert 'value="Plant stores D150"' in shown and 'value="Lathe 4"' in shown and 'name="tag"' not in shown
    new = sent(model, department, place)
    assert technician_client.post(address, new).context["form"].errors["reason"]
    assert technician_client.post(address, {**new, **REASON}).status_code == 302
    gauge.refresh_from_db()
    assert (gauge.tag.text, gauge.serial) == ("CAL-0001", "S-9")


def test_a_state_is_changed_to_what_may_follow(technician_client: Client, gauge: Gauge) -> None:
    address = reverse("gauge-state", args=[gauge.pk])
    shown = technician_client.get(address).content.decode()
    assert 'value="stored"' in shown and 'value="new"' not in shown
    assert technician_client.post(address, {"state": "lost", **REASON}).status_code == 302
    assert state_of(gauge, timezone.now()) == "lost"
    answer = technician_client.post(address, {"state": "in-service", **REASON})
    assert answer.status_code == 422


def test_into_service_goes_only_what_was_shown_to_be_good(technician_client: Client, gauge: Gauge) -> None:
    address = reverse("gauge-state", args=[gauge.pk])
    answer = technician_client.post(address, {"state": "in-service", **REASON})
    assert answer.status_code == 422
    assert "can&#x27;t go back into service" in answer.content.decode()
    assert state_of(gauge, timezone.now()) == "new"


def test_a_step_is_recorded_in_the_laboratory_s_time(
    technician_client: Client, gauge: Gauge, bench: Place, person: Any, settings: Any
) -> None:
    from instruments.inventory.operations import record_custody

    settings.LAB_ZONE = "Asia/Tokyo"
    received = timezone.now().replace(year=2026, month=1, day=5, hour=3)
    record_custody(
        gauge=gauge, kind="received", condition="clean", at=received, by=person("technician"), now=received
    )
    address = reverse("gauge-custody", args=[gauge.pk])
    answer = technician_client.post(
        address, {"kind": "soaking", "at": "2026-01-05T15:00", "place": "bench 1"}
    )
    assert answer.status_code == 302, answer.context["form"].errors
    last = whereabouts(gauge)
    assert last is not None and last.place == bench
    assert last.at.isoformat() == "2026-01-05T06:00:00+00:00"
    answer = technician_client.post(address, {"kind": "waiting", "at": "2026-01-05T15:30"})
    assert "waits for a part" in str(answer.context["form"].errors["waits_for"])


def picture(kind: str) -> io.BytesIO:
    drawn = io.BytesIO()
    Image.new("RGB", (20, 10), "white").save(drawn, kind)
    drawn.seek(0)
    drawn.name = "../../evil.svg"  # a name is only a name
    return drawn


def test_a_photo_is_kept_shown_and_removed(
    technician_client: Client, gauge: Gauge, settings: Any, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    change, show = reverse("gauge-photo-change", args=[gauge.pk]), reverse("gauge-photo", args=[gauge.pk])
    assert technician_client.get(show).status_code == 404
    assert technician_client.post(change, {"photo": picture("GIF")}).status_code == 422
    assert technician_client.post(change, {"photo": picture("PNG")}).status_code == 302
    (kept,) = (tmp_path / "gauges").iterdir()
    assert kept.suffix == ".jpg"
    answer: Any = technician_client.get(show)
    assert answer.headers["Content-Type"] == "image/jpeg"
    assert b"".join(answer.streaming_content) == kept.read_bytes()
    assert show in technician_client.get(reverse("gauge", args=[gauge.pk])).content.decode()
    assert technician_client.post(reverse("gauge-photo-remove", args=[gauge.pk]), REASON).status_code == 302
    assert technician_client.get(show).status_code == 404


def lines(*rows: tuple[str, str, str, str], **more: Any) -> dict[str, Any]:
    names = ("function", "up_to_mm", "lower_mm", "upper_mm")
    found = {"rows-TOTAL_FORMS": str(len(rows)), "rows-INITIAL_FORMS": "0"}
    for number, row in enumerate(rows):
        found |= {f"rows-{number}-{name}": text for name, text in zip(names, row, strict=True)}
    today = timezone.localdate()
    return {**found, "source": "own decision", "valid_from": today.isoformat(), **more}


def test_limits_are_written_line_by_line(signed_in: Callable[[str], Client], gauge: Gauge) -> None:
    client, address = signed_in("manager"), reverse("gauge-model-limits", args=[gauge.model_id])
    answer = client.post(address, lines(("outside", "150", "-0.03", "0.03"), ("", "", "", "")))
    assert answer.status_code == 302, answer.content
    held = limits_of_model(gauge.model, timezone.now())
    assert held is not None and not held.confirmed
    assert held.rows == [{"function": "outside", "up_to_mm": "150", "lower_mm": "-0.03", "upper_mm": "0.03"}]
    page = client.get(reverse("gauge-model", args=[gauge.model_id])).content.decode()
    assert "not confirmed" in page and "+0.03" in page and "−0.03" in page


def test_a_wrong_line_is_named_and_nothing_is_lost(signed_in: Callable[[str], Client], gauge: Gauge) -> None:
    client, address = signed_in("manager"), reverse("gauge-limits", args=[gauge.pk])
    answer = client.post(address, lines(("outside", "150", "-0.03", "0.03"), ("depth", "150", "0.1", "-0.1")))
    assert answer.status_code == 422
    body = answer.content.decode()
    assert "Line 2 of the limits" in body and 'value="-0.1"' in body
    assert limits_for(gauge, timezone.now()) is None


def test_more_lines_keep_what_is_typed(signed_in: Callable[[str], Client], gauge: Gauge) -> None:
    client, address = signed_in("manager"), reverse("gauge-limits", args=[gauge.pk])
    answer = client.post(
        address, lines(*[("depth", str(number), "-1", "1") for number in range(1, 7)], more="1")
    )
    body = answer.content.decode()
    assert answer.context["lines"].total_form_count() == 6 + 4
    assert 'value="own decision"' in body and 'name="rows-5-up_to_mm" value="6"' in body
    assert limits_for(gauge, timezone.now()) is None


def test_own_limits_are_given_up(signed_in: Callable[[str], Client], gauge: Gauge) -> None:
    client = signed_in("manager")
    client.post(
        reverse("gauge-limits", args=[gauge.pk]), lines(("outside", "150", "-0.01", "0.01"), confirmed="on")
    )
    held = limits_for(gauge, timezone.now())
    assert held is not None and held.own and held.confirmed
    assert client.post(reverse("gauge-limits-withdraw", args=[gauge.pk]), REASON).status_code == 302
    assert limits_for(gauge, timezone.now()) is None


def test_set_and_master_are_written(
    technician_client: Client, gauge: Gauge, make_gauge: Callable[..., Gauge]
) -> None:
    make_gauge("SET-25")
    add, pair = reverse("gauge-member-add", args=[gauge.pk]), reverse("gauge-pair", args=[gauge.pk])
    assert technician_client.post(add, {"label": "5.00", "nominal_mm": "5"}).status_code == 302
    assert technician_client.post(add, {"label": "5.00"}).status_code == 422
    assert technician_client.post(pair, {"master": "set-25"}).status_code == 302
    assert "No gauge is called" in technician_client.post(pair, {"master": "SET-26"}).content.decode()
    page = technician_client.get(reverse("gauge", args=[gauge.pk])).content.decode()
    assert "Withdraw 5.00" in page and "SET-25" in page
    member, pairing = gauge.members.get(), gauge.pairings.get()
    withdraw, part = (
        reverse("gauge-member-withdraw", args=[member.pk]),
        reverse("gauge-part", args=[pairing.pk]),
    )
    assert technician_client.post(withdraw, REASON).status_code == 302
    assert technician_client.post(part, REASON).status_code == 302
    page = technician_client.get(reverse("gauge", args=[gauge.pk])).content.decode()
    assert "Withdraw 5.00" not in page and REASON["reason"] in page


def test_a_model_is_registered_and_corrected(technician_client: Client, model: GaugeModel) -> None:
    given = {
        "family": model.family_id, "maker": "Plant stores", "designation": "V200", "indication": "vernier",
        "unit": "mm", "resolution": "0.05", "range_low_mm": "0", "range_high_mm": "200",
        "functions": ["outside", "depth"], "inside_jaws": "none", "expansion_per_k": "0.0000115",
    }  # fmt: skip
    answer = technician_client.post(reverse("gauge-model-register"), given)
    assert answer.status_code == 302, answer.context["form"].errors
    made = GaugeModel.objects.get(designation="V200")
    change = reverse("gauge-model-change", args=[made.pk])
    assert 'value="0.05"' in technician_client.get(change).content.decode()
    assert technician_client.post(change, {**given, "resolution": "0.02", **REASON}).status_code == 302
    assert technician_client.post(change, {**given, "resolution": "0", **REASON}).status_code == 422
    entry = about(f"model:{made.pk}").first()
    assert entry is not None and entry.after is not None
    page = technician_client.get(reverse("gauge-models") + "?text=v200").content.decode()
    assert "V200" in page and "D150" not in page


@pytest.mark.parametrize(
    ("name", "typed"), [("resolution", "5′"), ("resolution", '0.0005"'), ("range_high_mm", '8"')]
)
@pytest.mark.parametrize("unit", ["mm", "in"])
def test_a_mark_of_angle_is_no_length(
    name: str, typed: str, unit: str, technician_client: Client, model: GaugeModel
) -> None:
    given = {
        "family": model.family_id, "maker": "Plant stores", "designation": "V8", "indication": "vernier",
        "unit": unit, "resolution": "0.001", "range_low_mm": "0", "range_high_mm": "200",
        "functions": ["outside"], "inside_jaws": "none", "expansion_per_k": "0.0000115",
    }  # fmt: skip
    answer = technician_client.post(reverse("gauge-model-register"), {**given, name: typed})
    assert answer.status_code == 422 and answer.context["form"].errors[name]
    assert not GaugeModel.objects.filter(designation="V8").exists()


def test_a_range_that_ends_at_minutes_comes_back_as_it_was_typed(
    technician_client: Client, model: GaugeModel
) -> None:
    model.family.quantity = Quantity.ANGLE
    model.family.save()
    given = {
        "family": model.family_id, "maker": "Plant stores", "designation": "P45", "indication": "vernier",
        "unit": "′", "resolution": "5", "range_low_mm": "-180", "range_high_mm": "45°20′",
        "functions": ["angle"], "inside_jaws": "none",
    }  # fmt: skip
    assert technician_client.post(reverse("gauge-model-register"), given).status_code == 302
    made = GaugeModel.objects.get(designation="P45")
    assert (made.range_low_mm, made.range_high_mm, made.resolution) == (-648_000, 163_200, 5)
    change = reverse("gauge-model-change", args=[made.pk])
    form = technician_client.get(change).context["form"]
    shown = {name: form[name].value() for name in ("range_low_mm", "range_high_mm")}
    assert technician_client.post(change, {**given, **shown, "maker": "Stores", **REASON}).status_code == 302
    made.refresh_from_db()
    assert (made.range_low_mm, made.range_high_mm, made.maker) == (-648_000, 163_200, "Stores")
    text = technician_client.get(reverse("gauge-models") + "?text=p45").content.decode()
    assert "−180° to 45°\N{NO-BREAK SPACE}20′" in text


def test_a_members_nominal_takes_no_mark(technician_client: Client, gauge: Gauge) -> None:
    answer = technician_client.post(
        reverse("gauge-member-add", args=[gauge.pk]), {"label": "1 in", "nominal_mm": '1"'}
    )
    assert answer.status_code == 422 and answer.context["form"].errors["nominal_mm"] == ["Enter a number."]


GUARDED = [
    ("gauge-register", "manage", []),
    ("gauge-change", "manage", ["gauge"]),
    ("gauge-state", "manage", ["gauge"]),
    ("gauge-photo-change", "manage", ["gauge"]),
    ("gauge-photo-remove", "manage", ["gauge"]),
    ("gauge-member-add", "manage", ["gauge"]),
    ("gauge-pair", "manage", ["gauge"]),
    ("gauge-model-register", "manage", []),
    ("gauge-model-change", "manage", ["model"]),
    ("gauge-sheets", "manage", []),
    ("gauge-limits", "limits", ["gauge"]),
    ("gauge-limits-withdraw", "limits", ["gauge"]),
    ("gauge-model-limits", "limits", ["model"]),
    ("gauge-model", "read", ["model"]),
    ("gauge", "read", ["gauge"]),
]
HOLDERS = {
    "manage": {"manager", "technician"},
    "limits": {"manager", "reviewer"},
    "read": {"manager", "technician", "reviewer", "auditor", "administrator"},
}


@pytest.mark.parametrize("role", ["manager", "technician", "reviewer", "auditor", "administrator", "floor"])
@pytest.mark.parametrize(("name", "what", "of"), GUARDED)
def test_each_page_opens_to_its_roles(
    name: str, what: str, of: list[str], role: str, gauge: Gauge, signed_in: Callable[[str], Client]
) -> None:
    keys = {"gauge": gauge.pk, "model": gauge.model_id}
    address = reverse(name, args=[keys[one] for one in of])
    expected = 200 if role in HOLDERS[what] else 403
    assert signed_in(role).get(address).status_code == expected
    assert Client().get(address).status_code == 302
