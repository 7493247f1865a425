"""A protractor from its limits to its certificate: read in degrees and minutes, judged in arc seconds, never in mm."""

from __future__ import annotations

import re
from decimal import Decimal
from html import unescape

import pytest
from django.test import Client
from django.urls import reverse

from instruments.certificates.document import load
from instruments.certificates.models import Certificate
from instruments.certificates.printing.sheet import html_of
from instruments.inventory.models import Gauge
from instruments.measuring.models import SetAside, Submission
from instruments.measuring.planning import rules_open
from instruments.procedures.content import dump
from instruments.procedures.shipped import limits_for, procedure
from tests.bench import Player
from tests.families import Piece, Workplace, hand_in
from tests.instruments.certificates.conftest import sign
from tests.instruments.procedures.test_shipped import made
from tests.laboratory import Lab

D = Decimal
ANGLES = (15, 30, 45, 60, 90)
MILLIMETRES = re.compile(r"\d\s*mm\b|\bmm\b|µm\b(?!/)")


@pytest.fixture
def place(lab: Lab) -> Workplace:
    content = procedure("protractor")
    limits = {
        row["function"]: (row["lower_mm"], row["upper_mm"])
        for row in limits_for("protractor", made("1296000", "5", "angle", unit="′")).rows
    }
    model = {
        "indication": "vernier",
        "unit": "′",
        "resolution": D(5),
        "range_high_mm": D(1_296_000),
        "functions": ("angle",),
    }
    built = Workplace(lab, "protractor", dump(content), limits=limits, rule=dict(content.rule), model=model)
    blocks = [Piece(f"{angle}°", str(3600 * angle), ("angle",)) for angle in ANGLES]
    built.standard("AB-01", "angle-blocks", blocks)
    return built


@pytest.fixture
def gauge(place: Workplace) -> Gauge:
    return place.gauge("P-001")


@pytest.fixture
def begun(place: Workplace, gauge: Gauge) -> Player:
    player = place.sit(gauge)
    player.look()
    player.room()
    player.zero("as-found")
    return player


def read_all(player: Player, minutes_off: int = 0) -> Submission:
    """Read every point as it is, but 45° opened to the left so many minutes off."""
    for point in player.points():
        if point.function == "light_gap":
            player.read(point, "yes")
            continue
        degrees = int(point.nominal_mm) // 3600
        off = minutes_off if (degrees, point.place) == (45, "left") else 0
        player.read(point, f"{degrees}°{off:02d}′")
    player.zero("closing")
    return hand_in(player)


def test_every_angle_is_taken_to_both_sides_and_a_right_angle_in_every_quadrant(begun: Player) -> None:
    taken = {(point.function, int(point.nominal_mm) // 3600, point.place) for point in begun.points()}
    assert {("angle", angle, side) for angle in ANGLES for side in ("left", "right")} < taken
    assert {("quadrant", 90, f"quadrant-{number}") for number in (1, 2, 3, 4)} < taken
    assert {("light_gap", 0, "blade"), ("light_gap", 0, "base")} < taken


@pytest.mark.parametrize("typed", ["45 05", "45°05′", "45° 5'", "45°05"])
def test_degrees_and_minutes_are_typed_as_people_write_them(begun: Player, typed: str) -> None:
    point = next(one for one in begun.points() if one.nominal_mm == 45 * 3600)
    reading = begun.read(point, typed)
    assert (reading.value, reading.unit, reading.value_mm) == (2705, "′", 162_300)
    assert str(reading) == "45°\N{NO-BREAK SPACE}05′" and reading.raw == typed


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("45.05", "Expected degrees and minutes"),
        ("45", "one number with its mark"),
        ("45 65", "Expected minutes below 60"),
        ("45 02", "no multiple of 5′"),
        ("46 00", "a whole degree off"),
        ("135 00", "the supplement"),
        ("0 45", "60 times too small"),
        ("45 30 30", "no seconds"),
    ],
)
def test_what_is_no_such_angle_or_looks_odd_is_kept_and_asked_about(
    begun: Player, typed: str, says: str
) -> None:
    point = next(one for one in begun.points() if one.nominal_mm == 45 * 3600)
    found = begun.read(point, typed)
    assert isinstance(found, SetAside) and says in found.sentence


def test_the_complement_of_30_is_asked_about(begun: Player) -> None:
    point = next(one for one in begun.points() if one.nominal_mm == 30 * 3600)
    assert "complement" in begun.read(point, "60 00").sentence


def test_an_error_on_the_limit_is_inside_and_one_step_more_is_out(place: Workplace, begun: Player) -> None:
    found = read_all(begun, minutes_off=5)
    [judged] = [row for row in found.results.all() if row.value_mm > 100]
    # The block is 0.0001″ more than nominal, so that the error is that much below the limit of 300″.
    assert judged.value_mm == D("299.9999") and judged.verdict == "in_tolerance"
    [zero] = [row for row in found.results.all() if row.function == "zero"]
    assert zero.value_mm == 0 and zero.verdict == "in_tolerance"


def test_ten_minutes_are_out_of_tolerance_and_their_certificate_says_so(lab: Lab, begun: Player) -> None:
    for point in [one for one in begun.points() if one.nominal_mm == 45 * 3600 and one.place == "left"]:
        begun.read(point, "45 10")
        begun.read(point, "45 10")
    found = read_all_left(begun)
    [judged] = [row for row in found.results.all() if row.value_mm > 100]
    assert judged.value_mm == D("599.9999") and judged.verdict == "out_of_tolerance"


def read_all_left(player: Player) -> Submission:
    for point in player.points():
        if not point.readings.exists():
            player.read(
                point, "yes" if point.function == "light_gap" else f"{int(point.nominal_mm) // 3600}°00′"
            )
    player.zero("closing")
    return hand_in(player)


def text_of(markup: str) -> str:
    """Give what a page says: no styles, scripts, pictures' geometry or attributes that nobody reads."""
    bare = re.sub(r"<(style|script|template)\b.*?</\1>", " ", markup, flags=re.DOTALL)
    bare = re.sub(r"<link[^>]*>", " ", bare)
    said = " ".join(re.findall(r'(?:aria-label|alt|title|placeholder|value)="([^"]*)"', bare))
    return re.sub(r"[ \n]+", " ", unescape(re.sub(r"<[^>]+>", " ", bare)) + " " + unescape(said))


def without_mm(markup: str) -> str:
    # A gap that just shows in white light is a length, whatever is measured.
    text = text_of(markup).replace("about 2 µm to 3 µm", "")
    around = [text[max(0, found.start() - 60) : found.end() + 20] for found in MILLIMETRES.finditer(text)]
    assert around == []
    return text


def test_nothing_at_the_bench_is_in_millimetres(lab: Lab, begun: Player, client: Client) -> None:
    client.force_login(lab.technician)
    angle = next(one for one in begun.points() if one.nominal_mm == 45 * 3600)
    begun.read(angle, "45 05")
    for point in (None, *begun.points()):
        asked = "" if point is None else f"?point={point.pk}"
        markup = client.get(reverse("bench-session", args=[begun.session.pk]) + asked).content.decode()
        text = without_mm(markup)
        if point == angle:
            assert "Angle 45°\N{NO-BREAK SPACE}00′, left" in text
            assert "45°\N{NO-BREAK SPACE}05′" in text and "+5.0" in text
            assert 'data-key="°"' in markup and 'data-key="′"' in markup and 'data-key="."' not in markup
            assert "Long references" not in text
            assert 'data-unit="′"' in markup and 'data-reference="162000000100000"' in markup
    for name in ("bench-plan", "bench-hand-in"):
        without_mm(client.get(reverse(name, args=[begun.session.pk])).content.decode())


def test_what_is_open_is_counted_in_angles(begun: Player) -> None:
    [angle, *_] = [one for one in begun.points() if one.function == "angle"]
    said = [rule.sentence for rule in rules_open(begun.session, [angle])]
    assert any("more angles" in sentence for sentence in said)
    assert any("one angle at" in sentence for sentence in said)
    assert not any("length" in sentence for sentence in said)


def test_session_gauge_model_and_standard_speak_of_angles(
    lab: Lab, place: Workplace, gauge: Gauge, begun: Player, client: Client
) -> None:
    read_all(begun, minutes_off=5)
    client.force_login(lab.manager)
    session = without_mm(client.get(reverse("session", args=[begun.session.pk])).content.decode())
    assert "+5.0′" in session and "u in ″" in session
    page = without_mm(client.get(reverse("gauge", args=[gauge.pk])).content.decode())
    assert "0°\N{NO-BREAK SPACE}00′ to 360°\N{NO-BREAK SPACE}00′" in page and "+5′" in page
    model = without_mm(client.get(reverse("gauge-model", args=[gauge.model_id])).content.decode())
    assert "Expansion" not in model
    standard = begun.points()[2].references.get().element_value.element.standard_id
    page = without_mm(client.get(reverse("standard", args=[standard])).content.decode())
    assert "15°\N{NO-BREAK SPACE}00′\N{NO-BREAK SPACE}00″" in page and "+0.0001" in page
    revision = begun.session.revision_id
    without_mm(client.get(reverse("revision", args=[revision])).content.decode())
    limits = without_mm(client.get(reverse("gauge-model-limits", args=[gauge.model_id])).content.decode())
    assert "360°" in limits and "5′" in limits


def test_its_certificate_is_in_degrees_minutes_and_seconds(
    lab: Lab, begun: Player, client: Client, type_is_built: None
) -> None:
    signed: Certificate = sign(lab, read_all(begun, minutes_off=5))
    document = load(signed.document)
    lines = [line for stage in document.stages for line in stage.lines]
    [line] = [one for one in lines if one.error_mm > 100]
    assert (line.printed.length, line.printed.reading) == (
        "45°\N{NO-BREAK SPACE}00′",
        "45°\N{NO-BREAK SPACE}05′",
    )
    assert line.printed.error == "+5.0" and line.lower_mm == -300 and line.upper_mm == 300
    assert document.item.unit == "′" and "radian" in document.statements.traceability
    assert "the angle the gauge indicates minus the reference angle" in document.statements.measurand
    text = without_mm(html_of(document))
    assert "Zero, blade and base on one flat face" in text and "Expansion" not in text
    client.force_login(lab.manager)
    without_mm(client.get(reverse("certificate", args=[signed.pk])).content.decode())
