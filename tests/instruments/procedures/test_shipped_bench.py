"""Every shipped procedure at the bench: approved, a gauge of its family measured without error, handed in, accepted.

Standards are invented: every piece 0.1 µm more than nominal, U = 0.1 µm.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import timedelta
from decimal import Decimal

import pytest

from instruments.inventory.models import Gauge
from instruments.measuring.evaluation import ground_of, prospect_of
from instruments.measuring.models import Point
from instruments.measuring.open_items import open_items
from instruments.measuring.operations import open_session
from instruments.measuring.zeros import is_fixed
from instruments.procedures.content import Content, dump
from instruments.procedures.planner.aims import aims_of
from instruments.procedures.scales import scale_of
from instruments.procedures.shipped import limits_for, procedure
from instruments.recall.operations import receive
from labsys.metrology.angle_readings import angle_text
from labsys.metrology.exact import plain
from labsys.metrology.units import Quantity, Unit, from_mm
from tests.bench import MORNING, Player
from tests.families import Piece, Workplace, hand_in
from tests.instruments.certificates.traced import traced_lab
from tests.instruments.procedures.test_shipped import Typical, agreed, ends, made, pieces
from tests.laboratory import Lab
from tests.once import made_once

D = Decimal
ONE_OF_EACH = (
    Typical("outside-micrometer", made("50", "0.001", "outside", "parallelism", low="25")),
    Typical("depth-micrometer", made("50", "0.001", "depth")),
    Typical("inside-micrometer", made("30", "0.001", "inside", low="5")),
    Typical("depth-gauge", made("150", "0.01", "depth")),
    Typical("height-gauge", made("200", "0.01", "height")),
    Typical("dial-indicator", made("3", "0.01", "travel"), "dial"),
    Typical("dial-indicator", made("6.35", "0.0005", "travel", unit="in"), "dial"),
    Typical("digital-indicator", made("12.5", "0.001", "travel")),
    Typical("lever-indicator", made("0.8", "0.01", "travel"), "dial"),
    Typical("bore-gauge", made("1", "0.001", "travel")),
    Typical("plain-plug", made("20.021", "0.001", "go", "no_go", grade="Z"), "none", ends("20", "20.021")),
    Typical("plain-ring", made("50", "0.001", "go", grade="Z"), "none"),
    Typical("plain-pin", made("10", "0.001", "size", grade="1"), "none", pieces("5", "10")),
    Typical("setting-ring", made("25", "0.001", "size"), "none"),
    Typical("checker-bar", made("150", "0.001", "size"), "none", pieces("50", "150")),
    Typical("gauge-block", made("100", "0.001", "size", grade="1"), "none", pieces("100")),
    Typical("thread-plug", made("9.206", "0.001", "go", "no_go"), "none", ends("9.026", "9.206")),
    Typical("feeler", made("1", "0.001", "thickness"), "none", pieces("0.1", "1")),
    Typical("protractor", made("1296000", "5", "angle", unit="′"), "vernier"),
    Typical("protractor", made("1296000", "0.01", "angle", unit="°")),
    Typical("radius-gauge", made("25", "0.001", "radius"), "none", pieces("7", "25")),
    Typical("surface-plate", made("189", "0.001", "flatness", grade="0"), "none"),
)
_MEASURES_EVERY_LENGTH = (
    *("travel", "flatness", "parallelism", "pitch_diameter", "thickness", "radius"),
)  # fmt: skip


@pytest.fixture(scope="module")
def first_day(request: pytest.FixtureRequest) -> Iterator[Callable[[], Lab]]:
    with made_once(request, traced_lab) as own:
        yield own


def standards(of: Typical, content: Content) -> Iterator[Piece]:
    """Give what a plan of this gauge needs: an element for every length, or one that serves them all."""
    sizes: dict[str, set[Decimal]] = {}
    for series in content.series_for(of.made.functions):
        if series.serves:
            found = {aim.length_mm for aim in aims_of(series, of.model, of.members)}
            sizes.setdefault(series.serves, set()).update(found)
    for function, wanted in sizes.items():
        if function in _MEASURES_EVERY_LENGTH:
            yield Piece(function, f"{max(wanted) + 10:f}", (function,), continuous=True)
        else:
            yield from (Piece(f"{function} {size:f}", f"{size:f}", (function,)) for size in sorted(wanted))


def prepared(lab: Lab, of: Typical, content: Content) -> Gauge:
    """Put the procedure in force, its standards on the shelf, and register a gauge with the limits that ship."""
    # Where a family has several lines, the last one, which holds for the longest.
    limits = {
        row["function"]: (row["lower_mm"], row["upper_mm"])
        for row in limits_for(of.family, agreed(of).made).rows
    }
    model = of.model
    place = Workplace(
        lab,
        of.family,
        dump(content),
        limits=limits,
        rule=dict(content.rule),
        model={
            "indication": of.indication,
            "unit": of.made.unit,
            "resolution": of.made.step,
            "range_low_mm": model.range_low_mm,
            "range_high_mm": model.range_high_mm,
            "functions": of.made.functions,
        },
    )
    kind = "angle-blocks" if content.measures is Quantity.ANGLE else "block-set"
    place.standard("ST-01", kind, list(standards(of, content)))
    return place.gauge("G-0001", members=[(one.label, f"{one.nominal_mm:f}") for one in of.members])


def sit(lab: Lab, gauge: Gauge) -> Player:
    """Receive the gauge and open its session a day later, so that even granite has soaked."""
    receive(
        gauge=gauge, condition="clean, complete", damaged=False, place=lab.bench, at=MORNING, by=lab.technician,
        now=MORNING,
    )  # fmt: skip
    now = MORNING + timedelta(hours=26)
    return Player(open_session(gauge=gauge, place=lab.bench, by=lab.technician, now=now), lab.technician, now)


def typed(player: Player, point: Point, content: Content) -> str:
    """Give what is typed at a point where nothing is wrong with the gauge."""
    series = content.series_of(point.function)
    assert series is not None
    if series.reads in ("bands", "attribute"):
        return "1" if series.reads == "bands" else "yes"
    scale = scale_of(point.function, player.session.gauge.model, content)
    if scale.unit is Unit.ARCMIN:
        return angle_text(prospect_of(point, ground_of(player.run)).held_mm // 60 * 60, scale.unit)
    held = from_mm(prospect_of(point, ground_of(player.run)).held_mm, scale.unit, decimals=12)
    return f"{plain(round(held / scale.step) * scale.step):f}"


def work(player: Player, of: Typical, content: Content) -> None:
    """Do the whole job without an error."""
    low = plain(from_mm(of.made.range_low_mm, Unit(of.made.unit)))
    raw = f"{low:f}" if content.zero.how == "low-end" else "0"
    player.look()
    player.room()
    is_set = not is_fixed(player.session.gauge.model, content)
    for kind in ("as-found", *(("set",) if is_set else ())) if content.zero.how != "none" else ():
        player.zero(kind, raw)
    for point in player.points():
        for _turn in range(content.repeats_at(point.function)):
            player.read(point, typed(player, point, content))
    if content.zero.how != "none":
        player.zero("closing", raw)


@pytest.mark.parametrize("of", ONE_OF_EACH, ids=lambda of: f"{of.family}-{of.made.unit}")
def test_a_gauge_without_error_is_measured_handed_in_and_accepted(lab: Lab, of: Typical) -> None:
    content = procedure(of.family)
    gauge = prepared(lab, of, content)
    player = sit(lab, gauge)
    work(player, of, content)
    assert [item.sentence for item in open_items(player.session)] == []
    results = list(hand_in(player).results.order_by("pk"))
    judged = {row.verdict for row in results if row.verdict}
    assert judged == {"in_tolerance"}
    limits = {rule.limit for one in content.series_for(of.made.functions) for rule in one.results}
    assert limits <= {row.function for row in results}


def test_a_worn_go_end_is_found_and_the_no_go_end_goes_on(lab: Lab) -> None:
    content = procedure("plain-plug")
    of = next(one for one in ONE_OF_EACH if one.family == "plain-plug")
    gauge = prepared(lab, of, content)
    player = sit(lab, gauge)
    player.look()
    player.room()
    player.zero("as-found")
    player.zero("set")
    # Blocks of 20 mm and 20.021 mm, each 0.1 µm too long; the entry of the GO end has lost 1 µm.
    for point in player.points():
        is_go = point.function == "go"
        worn = is_go and point.place.startswith("entry")
        player.read(point, "-1.1" if worn else "0.4" if is_go else "-0.6")
    player.zero("closing")
    found = list(hand_in(player).results.order_by("pk"))
    go = {row.points.get().place: row for row in found if row.function == "go"}
    assert go["entry/0"].value_mm == D("-0.001") and go["entry/0"].verdict == "out_of_tolerance"
    assert go["far/0"].value_mm == D("0.0005") and go["far/0"].verdict == "in_tolerance"
    assert {row.verdict for row in found if row.function == "no_go"} == {"in_tolerance"}
    [taper, _other] = [row for row in found if row.function == "taper"]
    assert taper.value_mm == D("0.0015")
