"""The corridor and the sketches as markup: well formed, no style attributes, and the same in a PDF."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from xml.etree import ElementTree

import pytest
from django.template import Context, Template
from weasyprint import HTML

from labsys.pages import samples
from labsys.pages.corridor import BOXES, CORRIDOR_PRINT_CSS, CorridorData, Earlier, draw
from labsys.pages.sketches import FUNCTIONS, PLACES, CaliperPoint, UnknownSketch
from labsys.pages.sketches import draw as draw_sketch
from labsys.pages.sketches.shapes import HEIGHT, WIDTH
from tests.labsys.pages.test_corridor import numbers

SVG = "{http://www.w3.org/2000/svg}"
EVERY = [*samples.verdict_corridors(), *samples.special_corridors()]


def markup(data: CorridorData, box: str) -> str:
    template = Template("{% load pictures %}{% corridor data box=box %}")
    return template.render(Context({"data": data, "box": box}))


@pytest.mark.parametrize("box", BOXES)
@pytest.mark.parametrize("data", EVERY, ids=lambda data: data.label)
def test_markup(data: CorridorData, box: str) -> None:
    root = ElementTree.fromstring(markup(data, box))
    drawn = draw(data, box_name=box)
    assert [child.tag for child in root[:2]] == [f"{SVG}title", f"{SVG}desc"]
    assert root[0].text == drawn.title
    assert root[1].text == drawn.description
    assert root.get("role") == "img"
    assert all("style" not in part.attrib for part in root.iter())
    assert all(part.tag != f"{SVG}style" for part in root.iter())
    shown = [part.text for part in root.iter(f"{SVG}text")]
    assert shown == [text.text for text in drawn.texts]
    ruler = root.find(f"{SVG}path[@class='corridor-tick']")
    assert ruler is not None
    assert (ruler.get("d") or "").count("v") == len(drawn.ticks)
    assert len(root.findall(f"{SVG}line[@class='corridor-wall']")) == sum(wall.exists for wall in drawn.walls)


def test_before_a_reading_the_corridor_stands_without_a_mark() -> None:
    data = replace(EVERY[0], is_read=False)
    root = ElementTree.fromstring(markup(data, "bench"))
    classes = {part.get("class", "") for part in root.iter()}
    assert not [
        name for name in classes if name.startswith(("corridor-mark", "corridor-halo", "corridor-whisker"))
    ]
    assert {"corridor-wall", "corridor-band", "corridor-zero"} <= classes
    assert root[0].text == f"{data.label}: not read yet"
    description = (root[1].text or "").replace("\N{NO-BREAK SPACE}", " ")
    assert description == "Limits −0.03 to +0.03 mm. Accepted −0.024 to +0.024 mm."


def test_labels_are_escaped() -> None:
    data = CorridorData(label="<script>&", error_mm=Decimal("0.001"))
    assert ElementTree.fromstring(markup(data, "row"))[0].text.startswith("<script>&")  # type: ignore[union-attr]


def test_a_decimal_comma_never_gets_into_coordinates(settings: object) -> None:
    from django.utils import translation

    settings.USE_I18N = True  # type: ignore[attr-defined]
    with translation.override("de"):
        text = markup(EVERY[0], "bench")
    assert 'x="128.0"' in text


def test_the_pdf_has_the_colours_and_the_numerals() -> None:
    """Drawn by the renderer with no style sheet but the small print one."""
    data = samples.verdict_corridors()[0]
    page = f"<style>{CORRIDOR_PRINT_CSS}</style>{markup(data, 'row')}"
    pdf = HTML(string=page).write_pdf(uncompressed_pdf=True)
    assert pdf is not None
    # The band E3EDE6 and the mark 1E5B3C as the renderer writes them: red, green, blue from 0 to 1.
    for colour in ((0xE3, 0xED, 0xE6), (0x1E, 0x5B, 0x3C)):
        written = " ".join(f"{part / 255:.3f}"[:5] for part in colour)
        assert any(
            _close(line, colour)
            for line in pdf.decode("latin-1").splitlines()
            if line.endswith((" rg", " scn"))
        ), written


def _close(line: str, colour: tuple[int, int, int]) -> bool:
    parts = [float(part) for part in line.split()[:3]] if line.count(" ") >= 3 else []
    return len(parts) == 3 and all(abs(a - b / 255) < 0.004 for a, b in zip(parts, colour, strict=True))


def test_the_earlier_mark_is_hollow_and_joined() -> None:
    data = CorridorData(
        label="adjusted", error_mm=Decimal("0.004"), lower_mm=Decimal("-0.03"), upper_mm=Decimal("0.03"),
        verdict="in_tolerance", as_found=Earlier(Decimal("0.05"), "out_of_tolerance"),
    )  # fmt: skip
    root = ElementTree.fromstring(markup(data, "bench"))
    joint = root.find(f"{SVG}line[@class='corridor-joint']")
    before = root.find(f"{SVG}path[@class='corridor-before']")
    assert joint is not None
    assert before is not None
    drawn = draw(data, box_name="bench")
    assert drawn.earlier is not None
    assert float(joint.get("x1", "")) == drawn.earlier.x
    assert float(joint.get("x2", "")) == drawn.mark.x
    assert before.get("fill") == "#FFFDF8"


@pytest.mark.parametrize("function", FUNCTIONS)
@pytest.mark.parametrize("place", [*PLACES, None])
@pytest.mark.parametrize("opening", [0.0, 0.5, 1.0])
def test_sketches(function: str, place: str | None, opening: float) -> None:
    template = Template(
        "{% load pictures %}{% sketch function=f place=p opening=o reference_text='131.4 mm' %}"
    )
    root = ElementTree.fromstring(template.render(Context({"f": function, "p": place, "o": opening})))
    assert all("style" not in part.attrib for part in root.iter())
    description = root[1].text or ""
    assert "131.4 mm" in description
    if place:
        assert place.replace("_", " ") in description
        assert place.replace("_", " ") in [part.text for part in root.iter(f"{SVG}text")]
    drawn = draw_sketch(CaliperPoint(function=function, place=place, opening=opening))
    for shape in drawn.shapes:
        if shape.path.startswith("M") and "L" in shape.path and "a" not in shape.path:
            points = numbers(shape.path)
            assert all(0 <= x <= WIDTH for x in points[0::2])
            assert all(0 <= y <= HEIGHT for y in points[1::2])


def test_the_three_places_on_the_jaws_differ() -> None:
    drawn = {place: draw_sketch(CaliperPoint(function="outside", place=place)).shapes for place in PLACES}
    assert len(set(drawn.values())) == 3


def test_unknown_sketches_are_refused() -> None:
    with pytest.raises(UnknownSketch, match="place “elbow”"):
        CaliperPoint(function="outside", place="elbow")
    with pytest.raises(UnknownSketch, match="function"):
        CaliperPoint(function="thread")
