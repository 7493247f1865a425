"""Sketches of every gauge: inside their box, named in words, moving with the opening, drawn by the tag."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest
from django.template import Context, Template
from fontTools.pens.boundsPen import BoundsPen
from fontTools.svgLib.path import parse_path

from labsys.pages.sketches import DRAWINGS, GaugePoint, Sketch, UnknownSketch, draw_gauge
from labsys.pages.sketches.gauge import LETTER, place_of
from labsys.pages.sketches.shapes import HEIGHT, LOOKS, WIDTH, Axis, arc, clock, hatch

SVG = "{http://www.w3.org/2000/svg}"
SECTIONS = ("entry/0", "entry/90", "middle/45", "far/0", "far/135", "middle", "90")
EDGES = ("centre", "edge-0", "edge-90", "edge-180", "edge-270")
CORNERS = ("centre", "corner-1", "corner-2", "corner-3", "corner-4")
# The places that procedures usually name, by drawing; all of them have a mark of their own.
PLACES: dict[str, tuple[str, ...]] = {
    "micrometer": ("middle", *EDGES, "thimble-90"),
    "micrometer-parallelism": ("0", "90", "angle-270", *EDGES),
    "micrometer-flatness": ("anvil", "spindle"),
    "depth-gauge": ("middle", "left", "right"),
    "depth-micrometer": ("middle", "left", "right"),
    "inside-micrometer": SECTIONS,
    "height-gauge": ("middle",),
    "indicator": ("middle",),
    "lever-indicator": ("middle",),
    "bore-gauge": SECTIONS,
    "plug": SECTIONS,
    "ring": SECTIONS,
    "block": CORNERS,
    "check-bar": ("outside", "inside", *(f"step-{n}" for n in range(1, 8))),
    "thread-wires": SECTIONS,
    "surface-plate": (*CORNERS, *(f"line-{n}" for n in range(1, 9))),
    "feeler": ("entry", "middle", "far", *(f"place-{n}" for n in range(1, 7))),
    "protractor": ("quadrant-1", "quadrant-2", "quadrant-3", "quadrant-4", "0", "45", "120"),
    "radius-gauge": ("convex", "concave"),
}
EVERY = [(drawing, place) for drawing, places in PLACES.items() for place in ("", *places)]
STILL = {"micrometer-flatness"}


def bounds(path: str) -> tuple[float, float, float, float]:
    """Give the box around a path, arcs and curves included, by a reader of paths that isn't ours."""
    pen = BoundsPen(None)
    parse_path(path, pen)
    return pen.bounds or (0.0, 0.0, 0.0, 0.0)


def kinds(drawn: Sketch) -> set[str]:
    return {shape.kind for shape in drawn.shapes}


def paths(drawn: Sketch, kind: str) -> list[str]:
    return [shape.path for shape in drawn.shapes if shape.kind == kind]


def is_within(drawn: Sketch) -> bool:
    """Say whether all forms with their lines, and all words at their usual width, lie in the box."""
    for shape in drawn.shapes:
        left, top, right, bottom = bounds(shape.path)
        edge = LOOKS[shape.kind][2] / 2
        if min(left, top) < edge or right > WIDTH - edge or bottom > HEIGHT - edge:
            return False
    for text in drawn.texts:
        before = {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor] * len(text.text) * LETTER
        if (
            text.x < before
            or text.x - before + len(text.text) * LETTER > WIDTH
            or not 14 <= text.y <= HEIGHT - 4
        ):
            return False
    return True


def test_every_drawing_is_tried_at_its_places() -> None:
    assert set(PLACES) == set(DRAWINGS)
    assert len(DRAWINGS) == 19


@pytest.mark.parametrize("function", ["", "zero", "inside", "no_go"])
@pytest.mark.parametrize(("drawing", "place"), EVERY)
def test_everything_lies_in_the_box(drawing: str, place: str, function: str) -> None:
    drawn = [
        draw_gauge(GaugePoint(drawing, function, place, direction, opening, text))
        for opening in (-0.2, 0.0, 0.4, 1.0, 1.3)
        for direction, text in (
            ("", ""),
            ("up", "131.4 mm"),
            ("down", "a reference with a very long name " * 3),
        )
    ]
    assert all(one.width == WIDTH and one.height == HEIGHT for one in drawn)
    assert [one.title for one in drawn if not is_within(one)] == []


@pytest.mark.parametrize(("drawing", "place"), EVERY)
def test_title_and_description_name_place_and_reference(drawing: str, place: str) -> None:
    drawn = draw_gauge(GaugePoint(drawing, place=place, direction="down", reference_text="131.4 mm"))
    assert "Reference: 131.4 mm." in drawn.description
    assert "coming down" in drawn.description
    assert "131.4 mm" in [text.text for text in drawn.texts]
    assert {"reference", "place", "slide"} <= kinds(drawn)
    if place:
        words = place_of(place).words
        assert drawn.title.endswith(words)
        assert f"Marked: {words}." in drawn.description
        assert words in [text.text for text in drawn.texts]


@pytest.mark.parametrize("drawing", DRAWINGS)
def test_each_place_has_a_mark_of_its_own(drawing: str) -> None:
    marked = {}
    for place in PLACES[drawing]:
        drawn = draw_gauge(GaugePoint(drawing, place=place, opening=0.5))
        marked[place] = tuple(shape for shape in drawn.shapes)
    # One may be what is drawn without a place too: "outside" with the step nearest to the opening.
    assert len(set(marked.values())) >= len(marked) - 1


@pytest.mark.parametrize("drawing", sorted(set(DRAWINGS) - STILL))
def test_moving_parts_move_with_the_opening(drawing: str) -> None:
    closed, half, wide = (
        paths(draw_gauge(GaugePoint(drawing, opening=opening)), "slide") for opening in (0.0, 0.5, 1.0)
    )
    assert closed != half
    assert half != wide


@pytest.mark.parametrize("drawing", DRAWINGS)
@pytest.mark.parametrize(
    "place", ["shoulder", "entry/shoulder", "corner-17", "collar/90", "face-2-left", "/", "-"]
)
def test_a_place_that_is_not_in_the_drawing_is_named_and_not_marked(drawing: str, place: str) -> None:
    drawn = draw_gauge(GaugePoint(drawing, place=place, reference_text="25 mm"))
    words = place_of(place).words
    # What says how to move (rocking) is drawn with a dashed line; what marks a place is not.
    assert [shape for shape in drawn.shapes if shape.kind == "place" and not shape.dashed] == []
    assert f"Measure at: {words} (not in the drawing)." in drawn.description
    assert is_within(drawn)


def test_an_unknown_drawing_is_refused() -> None:
    with pytest.raises(UnknownSketch, match="drawing “sextant”; choose one of caliper, micrometer,"):
        draw_gauge(GaugePoint("sextant"))


@pytest.mark.parametrize(
    ("code", "words", "angle"),
    [
        ("entry/90", "entry, 90°", 90.0),
        ("far/0", "far end, 0°", 0.0),
        ("edge-180", "edge at 180°", 180.0),
        ("thimble-450", "thimble at 450°", 90.0),
        ("90", "90°", 90.0),
        ("corner-2", "corner 2", None),
        ("near_beam", "near the beam", None),
        ("face-left", "face left", None),
        ("", "", None),
    ],
)
def test_places_in_words(code: str, words: str, angle: float | None) -> None:
    assert (place_of(code).words, place_of(code).angle) == (words, angle)


@pytest.mark.parametrize(
    "drawing", ["micrometer", "depth-gauge", "depth-micrometer", "height-gauge", "feeler"]
)
def test_the_zero_is_read_with_nothing_between_unless_a_reference_is_named(drawing: str) -> None:
    closed = draw_gauge(GaugePoint(drawing, "zero", opening=0.0))
    assert "reference" not in kinds(closed)
    assert ", zero" in closed.title
    assert "reference" in kinds(draw_gauge(GaugePoint(drawing, "zero", opening=0.0, reference_text="25 mm")))


def test_the_no_go_end_is_touched_at_its_own_sections() -> None:
    ends = {function: draw_gauge(GaugePoint("plug", function, "entry")) for function in ("go", "no_go")}
    assert "GO end" in ends["go"].title
    assert "NO-GO end" in ends["no_go"].title
    assert bounds(paths(ends["go"], "place")[0])[0] < 100
    assert bounds(paths(ends["no_go"], "place")[0])[0] > 400


def test_wires_touch_both_flanks_at_the_pitch_line() -> None:
    """A wire of 0.577 P in a groove of 60° is as far from both flanks as it is thick, and the contact on top."""
    from labsys.pages.sketches import threads

    # Distance of the wire's centre from a flank that leans 30° and crosses the pitch line a quarter pitch away.
    across = 0.25 * threads.P * 0.8660254 + threads.OUT * 0.5
    assert across == pytest.approx(threads.WIRE, rel=1e-3)
    drawn = draw_gauge(GaugePoint("thread-wires", opening=0.3))
    wires = [bounds(path) for path in paths(drawn, "reference")]
    upper, lower = (bounds(path) for path in paths(drawn, "slide"))
    assert wires[0][1] == pytest.approx(upper[3], abs=0.2)
    assert [wire[3] for wire in wires[1:]] == pytest.approx([lower[1]] * 2, abs=0.2)


@pytest.mark.parametrize("drawing", DRAWINGS)
def test_the_tag_renders_each(drawing: str) -> None:
    template = Template(
        "{% load pictures %}{% sketch function='f' place=place opening=0.3 reference='ring' "
        "reference_text=text drawing=drawing direction='up' %}"
    )
    root = ElementTree.fromstring(
        template.render(Context({"drawing": drawing, "place": PLACES[drawing][-1], "text": "<25 mm>"}))
    )
    drawn = draw_gauge(
        GaugePoint(drawing, "f", PLACES[drawing][-1], "up", opening=0.3, reference_text="<25 mm>")
    )
    assert root[0].text == drawn.title
    assert root[1].text == drawn.description
    assert root.get("viewBox") == f"0 0 {WIDTH} {HEIGHT}"
    assert len(root.findall(f"{SVG}path")) == len(drawn.shapes)
    assert all("style" not in part.attrib for part in root.iter())


def test_the_tag_draws_the_caliper_where_nothing_else_is_named() -> None:
    old = "{% load pictures %}{% sketch function='outside' place='tips' reference_text='25 mm' %}"
    new = old.replace(" %}{% sketch", " %}{% sketch drawing='caliper' direction='up'")
    assert Template(old).render(Context()) == Template(new).render(Context())
    assert "Caliper, outside, tips" in Template(old).render(Context())


def test_the_tag_takes_no_place_for_an_empty_one_and_refuses_what_it_does_not_know() -> None:
    empty = Template("{% load pictures %}{% sketch drawing='plug' place=none %}").render(
        Context({"none": None})
    )
    assert "Plug gauge, GO end</title>" in empty
    with pytest.raises(UnknownSketch, match="sextant"):
        Template("{% load pictures %}{% sketch drawing='sextant' %}").render(Context())


def test_axes_turn_clockwise_as_the_screen_does() -> None:
    assert Axis(10, 10, 90).at(5, 2) == pytest.approx((8, 15))
    assert clock(0, 0, 10, 0) == pytest.approx((0, -10))
    assert clock(0, 0, 10, 90) == pytest.approx((10, 0))
    assert bounds(arc((50, 50), 10, 0, 180)) == pytest.approx((50, 40, 60, 60), abs=0.1)


def test_a_hatch_stays_on_its_surface() -> None:
    left, top, right, bottom = bounds(hatch(20, 30, 50, 120))
    assert min(left - 20, top - 30, 50 - right, 120 - bottom) >= 0
