"""Series through their forms: unchanged round trips, ways of lengths, faults beside fields, moves, own budgets."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from html.parser import HTMLParser
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from instruments.procedures.content import Content, Series, Window
from instruments.procedures.content import lengths as ways
from instruments.procedures.content.series import READS, RESULTS
from instruments.procedures.forms.series import SeriesForm, code_of
from instruments.procedures.forms.series_lengths import WAYS
from instruments.procedures.models import Revision
from instruments.procedures.queries import content_of
from instruments.procedures.shipped import families, procedure
from labsys.journal.models import JournalEntry
from tests.laboratory import Lab

D = Decimal
Sent = dict[str, Any]


class Browser(HTMLParser):
    """Collects what a browser would send from the form of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.sent: Sent = {}
        self.within = False
        self.select = ""
        self.options: list[tuple[str, bool]] = []
        self.area: str | None = None
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.within = "sheet" in given.get("class", "")
        if not self.within:
            return
        name = given.get("name", "")
        if tag == "input" and name and given.get("type") not in ("submit", "button"):
            if given.get("type") in ("checkbox", "radio") and "checked" not in given:
                return
            usual = "on" if given.get("type") == "checkbox" else ""
            self.sent.setdefault(name, []).append(given.get("value", usual))
        elif tag == "select":
            self.select, self.options = name, []
        elif tag == "option":
            self.options.append((given.get("value", ""), "selected" in given))
        elif tag == "textarea":
            self.area, self.text = name, ""

    def handle_data(self, data: str) -> None:
        self.text += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "select" and self.select:
            chosen = [value for value, selected in self.options if selected] or [self.options[0][0]]
            self.sent[self.select], self.select = chosen, ""
        elif tag == "textarea" and self.area:
            self.sent[self.area], self.area = [self.text.removeprefix("\n")], None
        elif tag == "form":
            self.within = False


def shown(page: Any) -> Sent:
    browser = Browser()
    browser.feed(page.content.decode())
    browser.sent.pop("csrfmiddlewaretoken", None)
    return browser.sent


def opened(client: Client, url: str, **changes: Any) -> Sent:
    """Give what the page at ``url`` would send, with some fields typed over; None takes one away."""
    sent = shown(client.get(url))
    for name, value in changes.items():
        sent.pop(name, None) if value is None else sent.__setitem__(name, value)
    return sent


def content(row: Revision) -> Content:
    return content_of(Revision.objects.get(pk=row.pk))


@pytest.fixture
def client(client: Client, lab: Lab) -> Client:
    client.force_login(lab.technician)
    return client


@pytest.fixture
def micrometer(draft: Callable[..., Revision]) -> Revision:
    return draft(content=procedure("outside-micrometer"))


def item(row: Revision, index: int | None, items: str = "series") -> str:
    if index is None:
        return reverse("revision-item-new", args=[row.pk, items])
    return reverse("revision-item", args=[row.pk, items, index])


def one(row: Revision, code: str) -> Series:
    found = content(row).series_of(code)
    assert found is not None
    return found


@pytest.mark.parametrize("family", families())
def test_every_series_that_ships_comes_back_from_its_form_unchanged(
    family: str, draft: Callable[..., Revision], client: Client
) -> None:
    row = draft(content=procedure(family))
    for section in ("reading", "points") if content(row).points is not None else ("reading",):
        url = reverse("revision-section", args=[row.pk, section])
        assert client.post(url, opened(client, url)).status_code == 302, section
    for index, series in enumerate(content(row).series):
        answer = client.post(item(row, index), opened(client, item(row, index)))
        assert answer.status_code == 302, (series.code, answer.context["form"].errors)
        assert answer["Location"].endswith(f"#series-{series.code}")
        for part in range(len(series.budget or ())):
            url = item(row, part, f"budget-of-{series.code}")
            assert client.post(url, opened(client, url)).status_code == 302, (series.code, part)
    assert content(row) == procedure(family)


@pytest.mark.parametrize("family", families())
def test_a_revision_says_everything_of_its_series(
    family: str, draft: Callable[..., Revision], client: Client
) -> None:
    row = draft(content=procedure(family))
    page = client.get(reverse("revision", args=[row.pk])).content.decode().replace("&#x27;", "'")
    for series in content(row).series:
        words = [series.name, series.reading_rule, series.caution, READS[series.reads][1:]]
        words += [rule.name or RESULTS[rule.kind][1:] for rule in series.results]
        words += [component["name"] for component in series.budget or ()]
        assert [word for word in words if word not in page] == [], series.code
    drawn = sum(bool(series.sketch) for series in content(row).series)
    assert page.count('class="sketch"') == drawn


LENGTHS: list[tuple[str, dict[str, str], ways.Lengths]] = [
    ("list", {"mm": "1; 2,5 10", "inch": "0.1"}, ways.FixedList((D(1), D("2.5"), D(10)), (D("0.1"),))),
    ("from-low", {"mm": "5", "with_low": "on"}, ways.FromLow((D(5),))),
    ("from-low", {"mm": "5"}, ways.FromLow((D(5),), with_low=False)),
    (
        "spread",
        {
            **{"low_share": "30", "far_share": "80", "bands-0-range_up_to_mm": "50", "bands-0-least_points": "3"},
            **{"bands-0-lengths_mm": "", "bands-0-lengths_in": "", "bands-1-range_up_to_mm": "100"},
            **{"bands-1-least_points": "5", "bands-1-lengths_mm": "10; 95", "bands-1-lengths_in": "1; 3"},
        },
        ways.Spread(
            (ways.Band(D(50), 3), ways.Band(D(100), 5, (D(10), D(95)), (D(1), D(3)))),
            D("0.3"), D("0.8"),
        ),
    ),
    (
        "segments",
        {
            **{"parts-0-up_to_mm": "2", "parts-0-every_mm": "0,1", "parts-1-up_to_mm": ""},
            **{"parts-1-every_mm": "", "parts-2-up_to_mm": "25", "parts-2-every_mm": "5"},
        },
        ways.Segments((ways.Segment(D(2), D("0.1")), ways.Segment(D(25), D(5)))),
    ),
    (
        "segments",
        {
            **{"parts-0-up_to_mm": "25", "parts-0-every_mm": "5"},
            **{"inch_parts-0-up_to_in": "0.1", "inch_parts-0-every_in": "0,005"},
            **{"inch_parts-1-up_to_in": "1", "inch_parts-1-every_in": "0.1"},
        },
        ways.Segments(
            (ways.Segment(D(25), D(5)),),
            (ways.InchSegment(D("0.1"), D("0.005")), ways.InchSegment(D(1), D("0.1"))),
        ),
    ),
    ("shares", {"of_range": "0; 12.5; 100"}, ways.Shares((D(0), D("0.125"), D(1)))),
    (
        "window",
        {"window__from_mm": "5", "window__to_mm": "20", "window__below": "on", "window__prefer_mm": "10"},
        ways.InWindow(Window(D(5), D(20), below=True, prefer_mm=D(10))),
    ),
    ("nominal", {}, ways.Nominal()),
    ("member", {"label": "GO"}, ways.OneMember("GO")),
    ("members", {}, ways.EveryMember()),
    ("none", {}, ways.NoLength()),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "typed", "expected"), LENGTHS)
def test_every_way_of_lengths_is_chosen_shown_and_kept(
    kind: str, typed: dict[str, str], expected: ways.Lengths, micrometer: Revision, client: Client
) -> None:
    url = item(micrometer, 3)  # the flatness of the anvil has no length
    sent = opened(client, url, lengths__kind=kind, name="Another name")
    page = client.post(url, {**sent, "act": "show"})
    assert page.status_code == 200 and not page.context["form"].errors
    asked = shown(page)
    assert asked["name"] == ["Another name"] and asked["lengths__kind"] == [kind]
    boxes = {f"lengths__{name}" for name in ("with_low", "window__below")}
    filled = {name: value for name, value in asked.items() if name not in boxes}
    filled |= {f"lengths__{name}": [value] for name, value in typed.items()}
    assert set(filled) - boxes >= {f"lengths__{name}" for name in typed} - boxes
    answer = client.post(url, filled)
    assert answer.status_code == 302, answer.context["form"].errors
    assert one(micrometer, "flatness_anvil").lengths == expected


def test_every_way_the_content_knows_is_offered() -> None:
    known = {way.__dataclass_fields__["kind"].default for way in ways.Lengths.__args__}
    assert set(WAYS) == known
    assert {kind for kind, _typed, _expected in LENGTHS} == known


def test_a_way_changed_and_kept_at_once_asks_what_is_missing_with_its_usual_values(
    micrometer: Revision, client: Client
) -> None:
    url = item(micrometer, 0)
    page = client.post(url, opened(client, url, lengths__kind="spread", lengths__mm=None))
    assert page.status_code == 422
    assert "how many points" in page.context["form"].errors["lengths__bands"][0]
    asked = shown(page)
    assert asked["lengths__low_share"] == ["33.4"] and asked["lengths__far_share"] == ["90"]
    assert one(micrometer, "length") == procedure("outside-micrometer").series[0]


def test_a_series_is_added_with_a_short_name_made_of_its_name_and_everything_it_can_say(
    micrometer: Revision, client: Client
) -> None:
    url = item(micrometer, None)
    sent = opened(client, url, name="Flatness of the anvil", lengths__kind="list", lengths__mm="5; 10")
    sent |= {
        **{"needs": "outside", "caution": "Cold.", "places": "Entry / 90°\nedge-0\n\nfar end", "each_place": "on"},
        **{"directions": "up down", "reads": "difference", "serves": "outside", "within_mm": "0.05"},
        **{"most_blocks": "1", "on__unit": "µm", "on__step": "0,1", "reading_rule": "The smallest."},
        **{"repeats": "3", "spread_limit_mm": "0.002", "sketch": "plug", "budget_from": "own"},
        **{"budget_takes": ["reading", "value of the standard"]},
        **{"results-0-kind": "deviation", "results-0-limit": "outside", "results-0-name": "Size"},
        **{"results-2-kind": "span", "results-2-limit": "span", "results-2-direction": "up"},
        **{"results-1-kind": "section", "results-1-limit": "section", "results-1-within_mm": "0.2"},
    }  # fmt: skip
    answer = client.post(url, sent)
    assert answer.status_code == 302, answer.context["form"].errors
    made = content(micrometer).series[-1]
    assert made.code == "flatness_of_the_anvi" and answer["Location"].endswith("#series-flatness_of_the_anvi")
    assert made.places == ("entry/90", "edge-0", "far_end") and made.each_place
    assert made.directions == ("up", "down") and (made.repeats, made.most_blocks) == (3, 1)
    assert made.on is not None and (made.on.unit, str(made.on.step)) == ("µm", "0.1")
    assert (str(made.within_mm), str(made.spread_limit_mm)) == ("0.05", "0.002")
    assert [(rule.kind, rule.name, rule.direction, str(rule.within_mm)) for rule in made.results] == [
        ("deviation", "Size", "", "None"), ("section", "", "", "0.2"), ("span", "", "up", "None"),
    ]  # fmt: skip
    assert [component["name"] for component in made.budget or ()] == ["value of the standard", "reading"]
    assert (made.needs, made.serves, made.sketch, made.caution) == ("outside", "outside", "plug", "Cold.")
    assert JournalEntry.objects.filter(act="procedures.change-draft").exists()


def test_a_series_left_as_it_is_offered_takes_the_usual_values(micrometer: Revision, client: Client) -> None:
    url = item(micrometer, None)
    sent = opened(
        client, url, name="Fit", lengths__kind="none", reads="attribute", reading_rule="It goes in."
    )
    sent |= {"results-0-kind": ["attribute"], "results-0-limit": ["fit"], "within_mm": [""], "repeats": [""]}
    assert client.post(url, sent).status_code == 302
    made = content(micrometer).series[-1]
    usual = Series(made.code, "Fit", ways.NoLength(), made.results, "It goes in.", reads="attribute")
    assert made == usual and made.code == "fit"


WRONG: list[tuple[dict[str, Any], str, str]] = [
    ({"name": ""}, "name", "required"),
    ({"code": "Length 1"}, "code", "lower-case letters, digits and underscores"),
    ({"code": "edges"}, "code", "another series has this one"),
    ({"reads": "bands"}, "results", "a result that goes with reading “bands”"),
    ({"serves": ""}, "serves", "the function that a reference must serve"),
    ({"places": "middle\nmiddle"}, "places", "every place once"),
    ({"places": "middle\nwhat?"}, "places", "a place such as middle"),
    ({"results-0-kind": "hysteresis"}, "directions", "both directions, for the hysteresis"),
    ({"results-0-kind": "spread"}, "repeats", "at least two readings"),
    ({"results-0-kind": "taper", "places": "middle"}, "places", "section and angle"),
    ({"results-0-kind": "section"}, "results", "Row 1, Section (mm): Expected the length of the section"),
    (
        {"results-0-within_in": "0.01"},
        "results",
        "Row 1, Section, gauges in inches (in): Expected no length of a section",
    ),
    ({"results-0-kind": "", "results-0-name": "X"}, "results", "Row 1, Result: This field is required."),
    ({"results-1-kind": "span"}, "results", "Row 2, Line of limits"),
    ({"results-0-kind": "", "results-0-limit": ""}, "results", "at least one result"),
    ({"results-0-within_mm": "far"}, "results", "Row 1, Section (mm): Expected a number such as 0.02"),
    ({"band_mm": "290"}, "band_mm", "half the wavelength in µm"),
    ({"band_mm": "0.29"}, "band_mm", "where bands are counted"),
    ({"on__step": "0.1"}, "on__unit", "the unit of the step"),
    ({"on__unit": "µm"}, "on__step", "a number"),
    ({"lengths__mm": "5; 3"}, "lengths__mm", "more than 5, the length before"),
    ({"lengths__mm": "1e999999"}, "lengths__mm", "Expected a number such as 0.02"),
    ({"lengths__mm": "", "lengths__inch": ""}, "lengths__mm", "at least one length"),
    ({"repeats": "21"}, "repeats", "less than or equal to 20"),
    ({"budget_from": "own", "budget_takes": []}, "budget_takes", "at least one component"),
]


@pytest.mark.parametrize(("changes", "field", "sentence"), WRONG)
def test_a_fault_stands_beside_its_field_and_nothing_typed_is_lost(
    changes: dict[str, Any], field: str, sentence: str, micrometer: Revision, client: Client
) -> None:
    url = item(micrometer, 0)
    sent = opened(client, url, **changes)
    page = client.post(url, sent)
    assert page.status_code == 422
    errors = page.context["form"].errors
    assert list(errors) == [field] and sentence in " ".join(errors[field]), errors
    back = shown(page)
    typed = {name: [value] if isinstance(value, str) else value for name, value in changes.items() if value}
    assert {name: back.get(name) for name in typed} == typed
    if "Row 1, Section (mm)" in sentence:
        assert 'aria-label="Section (mm), result 1" aria-invalid="true"' in page.content.decode()
    assert content(micrometer) == procedure("outside-micrometer")


FAULTY_LENGTHS: list[tuple[str, dict[str, str], str, str]] = [
    ("shares", {"of_range": "50; 110"}, "of_range", "0 to 100 %"),
    ("shares", {"of_range": ""}, "of_range", "at least one"),
    ("window", {"window__from_mm": "9", "window__to_mm": "5"}, "window__to_mm", "a number above 9"),
    (
        "segments",
        {
            **{"parts-0-up_to_mm": "5", "parts-0-every_mm": "1"},
            **{"parts-1-up_to_mm": "2", "parts-1-every_mm": "1"},
        },
        "parts",
        "Row 2, Up to (mm): Expected more than 5",
    ),
    (
        "segments",
        {
            **{"parts-0-up_to_mm": "5", "parts-0-every_mm": "1"},
            **{"inch_parts-0-up_to_in": "1", "inch_parts-0-every_in": "0.1"},
            **{"inch_parts-1-up_to_in": "0.5", "inch_parts-1-every_in": "0.1"},
        },
        "inch_parts",
        "Row 2, Up to (in): Expected more than 1",
    ),
    (
        "spread",
        {"bands-0-range_up_to_mm": "50", "bands-0-least_points": "3", "bands-0-lengths_mm": "9; 3"},
        "bands",
        "Row 1, Lengths, gauges in mm: Expected more than 9",
    ),
]


@pytest.mark.parametrize(("kind", "typed", "field", "sentence"), FAULTY_LENGTHS)
def test_a_fault_of_the_lengths_stands_beside_them(
    kind: str, typed: dict[str, Any], field: str, sentence: str, micrometer: Revision, client: Client
) -> None:
    url = item(micrometer, 0)
    asked = shown(client.post(url, {**opened(client, url, lengths__kind=kind), "act": "show"}))
    page = client.post(url, asked | {f"lengths__{name}": [value] for name, value in typed.items()})
    assert page.status_code == 422
    assert sentence in page.context["form"].errors[f"lengths__{field}"][0], page.context["form"].errors


def test_series_are_moved_and_removed(micrometer: Revision, client: Client) -> None:
    def codes() -> list[str]:
        return [series.code for series in content(micrometer).series]

    before = codes()
    assert client.post(item(micrometer, 0), {"act": "later"}).status_code == 302
    assert codes() == [before[1], before[0], *before[2:]]
    assert client.post(item(micrometer, 1), {"act": "earlier"})["Location"].endswith("#series")
    assert codes() == before
    for _ in before[1:]:
        assert client.post(item(micrometer, 0), {"act": "remove"}).status_code == 302
    assert codes() == before[-1:]
    assert ">Remove<" not in client.get(item(micrometer, 0)).content.decode()
    refused = client.post(item(micrometer, 0), {"act": "remove"})
    assert refused.status_code == 409 or "at least one series" in refused.content.decode()
    assert codes() == before[-1:]


def test_a_change_made_from_what_is_not_there_any_more_is_refused(
    micrometer: Revision, client: Client
) -> None:
    url = item(micrometer, 0)
    first, second = opened(client, url, name="First"), opened(client, url, name="Second")
    assert client.post(url, first).status_code == 302
    late = client.post(url, second)
    assert late.status_code == 422 and "changed by somebody else" in str(late.context["form"].errors)
    assert shown(late)["name"] == ["Second"] and one(micrometer, "length").name == "First"


def test_a_budget_of_its_own_is_begun_changed_and_given_up(micrometer: Revision, client: Client) -> None:
    url = item(micrometer, 0)
    sent = opened(client, url, budget_from="own", budget_takes=["reading", "zero setting"])
    assert client.post(url, sent).status_code == 302

    def names() -> list[str]:
        return [component["name"] for component in one(micrometer, "length").budget or ()]

    assert names() == ["zero setting", "reading"]
    page = client.get(reverse("revision", args=[micrometer.pk])).content.decode()
    assert item(micrometer, 1, "budget-of-length") in page
    add = item(micrometer, None, "budget-of-length")
    assert add in page and b"joints between wrung blocks" in client.get(add).content.lower()
    add += "?kind=geometry"
    taken = client.post(add, opened(client, add, name="reading", half_width_mm="0.001"))
    assert "every component named once" in taken.context["form"].errors["name"][0]
    answer = client.post(add, opened(client, add, name="force", half_width_mm="0.001"))
    assert answer["Location"].endswith("#series-length") and names() == ["zero setting", "reading", "force"]
    assert client.post(item(micrometer, 2, "budget-of-length"), {"act": "earlier"}).status_code == 302
    assert client.post(item(micrometer, 0, "budget-of-length"), {"act": "remove"}).status_code == 302
    assert names() == ["force", "reading"]
    assert content(micrometer).budget == procedure("outside-micrometer").budget
    assert client.post(url, opened(client, url, budget_from="procedure")).status_code == 302
    assert content(micrometer) == procedure("outside-micrometer")
    assert client.get(add).status_code == 404
    assert client.get(item(micrometer, 0, "budget-of-nothing")).status_code == 404


def test_the_zero_says_what_it_is_read_on(micrometer: Revision, client: Client) -> None:
    url = reverse("revision-section", args=[micrometer.pk, "reading"])
    assert client.post(url, opened(client, url, zero__how="none", zero__text="")).status_code == 302
    assert (content(micrometer).zero.how, content(micrometer).zero.text) == ("none", "")
    assert "The gauge has no zero." in client.get(reverse("revision", args=[micrometer.pk])).content.decode()
    sent = opened(client, url, zero__how="reference", zero__text="On the ring.", zero__fixed="on")
    assert client.post(url, sent).status_code == 302
    zero = content(micrometer).zero
    assert (zero.how, zero.text, zero.fixed, zero.allowed_steps) == ("reference", "On the ring.", True, 1)


def test_rules_over_range_and_faces_are_added_and_removed(micrometer: Revision, client: Client) -> None:
    home = reverse("revision", args=[micrometer.pk])
    assert "Add rules over range and faces" in client.get(home).content.decode()
    url = reverse("revision-section", args=[micrometer.pk, "points"])
    windows = reverse("revision-section", args=[micrometer.pk, "windows"])
    assert client.get(windows).status_code == 404
    assert client.get(item(micrometer, 0, "bands")).status_code == 404
    sent = opened(client, url, points__source="Common practice.", reading_rules__outside="")
    page = client.post(url, sent)
    assert page.status_code == 422
    assert set(page.context["form"].errors) == {"reading_rules__outside", "points__bands"}
    row = {"range_up_to_mm": "100", "least_points": "5", "lengths_mm": "10; 90", "lengths_in": ""}
    sent |= {f"points__bands-0-{name}": [value] for name, value in row.items()}
    sent["reading_rules__outside"] = ["The smallest reading."]
    assert client.post(url, sent).status_code == 302
    rules = content(micrometer).points
    assert rules is not None and rules.source == "Common practice." and not rules.windows
    assert [str(share) for share in (rules.low_share, rules.far_share)] == ["0.334", "0.9"]
    assert client.get(windows).status_code == 200
    assert "Remove these rules" in client.get(url).content.decode()
    side = client.post(url, {"act": "remove"})
    assert side.status_code == 302 and content(micrometer).points is None


def test_what_a_procedure_of_points_alone_loses_stands_side_by_side(lab: Lab, client: Client) -> None:
    client.post(
        reverse("revision-draft", args=[lab.revision.procedure_id]), {"base": "last", "change": "series"}
    )
    row = lab.revision.procedure.revisions.latest("number")
    url = reverse("revision-section", args=[row.pk, "points"])
    assert "Remove these rules" not in client.get(url).content.decode()
    assert (
        "None: nothing is measured besides" in client.get(reverse("revision", args=[row.pk])).content.decode()
    )
    new = item(row, None)
    sent = opened(
        client, new, name="Fit", lengths__kind="none", reads="attribute", reading_rule="It goes in."
    )
    sent |= {"results-0-kind": ["attribute"], "results-0-limit": ["fit"]}
    assert client.post(new, sent).status_code == 302
    assert ">Remove<" in client.get(item(row, 0)).content.decode()
    assert client.post(url, {"act": "remove"}).status_code == 302
    page = client.get(reverse("revision-difference", args=[row.pk])).content.decode()
    for title in (
        "Series",
        "Points",
        "Outside points by measuring range",
        "One point of each other function",
    ):
        assert f"<caption>{title}</caption>" in page, title


def test_a_short_name_is_made_of_a_name_and_taken_once() -> None:
    assert code_of("Länge, 2. Fläche", set()) == "l_nge_2_fl_che"
    assert code_of("5 × Öffnen", set()) == "series_5_ffnen"
    assert code_of("Length", {"length", "length_2"}) == "length_3"
    assert len(code_of("A" * 40, {"a" * 20})) <= 20


def test_every_field_of_a_series_has_its_place_on_the_form() -> None:
    form = SeriesForm(item={}, sha256="", content={"budget": []})
    wanted = set(Series.__dataclass_fields__) - {"on", "lengths", "budget"}
    assert wanted | {"on__unit", "on__step", "lengths__kind", "budget_from"} <= set(form.fields)
    placed = {field.name for _legend, fields in form.groups() for field in fields}
    assert set(form.fields) - placed == {"based_on", "lengths__shown"}


def test_a_procedure_of_angles_is_asked_for_angles_and_leaves_the_others_as_they_are(
    draft: Callable[..., Revision], client: Client
) -> None:
    row = draft(content=procedure("protractor"))
    index = next(number for number, one in enumerate(content(row).series) if one.code == "angle")
    page = client.get(item(row, index)).content.decode()
    assert "(mm" not in page and 'value="15°; 30°; 45°; 60°; 90°"' in page
    typed = {**opened(client, item(row, index)), "lengths__mm": "10°; 22°30′; 324000"}
    assert client.post(item(row, index), typed).status_code == 302
    assert one(row, "angle").lengths == ways.FixedList((D(36_000), D(81_000), D(324_000)))
    wrong = client.post(item(row, index), {**opened(client, item(row, index)), "lengths__mm": "400°"})
    assert wrong.status_code == 422 and "within ±360°" in wrong.content.decode()
    length = draft(content=procedure("dial-indicator"))
    assert "Section (mm)" in client.get(item(length, 0)).content.decode()
