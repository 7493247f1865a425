"""A refused form says so on top and beside each field, and the two are tied together for those who hear the page."""

from __future__ import annotations

from html.parser import HTMLParser

from django.template.loader import render_to_string

from labsys.errors import LabError
from labsys.pages import refusals
from labsys.pages.samples import SampleForm


class Elements(HTMLParser):
    """Collects every start tag with its attributes."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def ids(self) -> set[str | None]:
        return {attrs["id"] for _, attrs in self.found if "id" in attrs}


def refused() -> tuple[SampleForm, str]:
    form = SampleForm({"received_on": "yesterday", "note": "Scale dirty."})
    form.is_valid()
    return form, render_to_string("labsys/elements/form.html", {"form": form})


def test_every_wrong_field_names_its_error_and_its_help() -> None:
    form, text = refused()
    page = Elements(text)
    ids = page.ids()
    for name in form.errors:
        error = f"id_{name}_error"
        assert error in ids
        tied = [attrs for _, attrs in page.found if error in (attrs.get("aria-describedby") or "").split()]
        assert tied, name
    described = {part for _, attrs in page.found for part in (attrs.get("aria-describedby") or "").split()}
    assert described <= ids


def test_help_and_error_are_both_read() -> None:
    _, text = refused()
    tag = next(attrs for tag, attrs in Elements(text).found if attrs.get("name") == "tag")
    assert tag["aria-describedby"] == "id_tag_helptext id_tag_error"
    assert tag["aria-invalid"] == "true"


def test_the_summary_counts_and_links_to_each_field() -> None:
    form, text = refused()
    page = Elements(text)
    links = {attrs["href"] for tag, attrs in page.found if tag == "a"}
    assert "6 things are to be mended" in text
    assert len(form.errors) == 6
    assert {f"#id_{name}" for name in ("tag", "family", "received_on", "confirmed")} <= links
    assert {(href or "").removeprefix("#") for href in links} <= page.ids()


def test_what_was_typed_is_kept() -> None:
    _, text = refused()
    assert "Scale dirty." in text


def test_a_good_form_has_no_summary() -> None:
    assert "summary" not in render_to_string("labsys/elements/form.html", {"form": SampleForm()})


def test_every_control_has_its_label() -> None:
    page = Elements(render_to_string("labsys/elements/form.html", {"form": SampleForm()}))
    labelled = {attrs.get("for") for tag, attrs in page.found if tag == "label"}
    controls = [attrs for tag, attrs in page.found if tag in ("input", "select", "textarea")]
    assert {attrs["id"] for attrs in controls} <= labelled
    assert len(controls) == 13


class TagTaken(LabError):
    code = "tag-taken"
    sentence = "The tag {tag} is taken; choose another one."
    field = "tag"


class LabClosed(LabError):
    code = "lab-closed"
    sentence = "The bench is closed on {day}."
    field = "day"


def test_a_refusal_goes_beside_its_field_or_on_top() -> None:
    form, _ = refused()
    refusals.attach(form, TagTaken(tag="CAL-1"))
    refusals.attach(form, LabClosed(day="2026-12-24"))
    assert "The tag CAL-1 is taken; choose another one." in form.errors["tag"]
    assert form.non_field_errors() == ["The bench is closed on 2026-12-24."]
    text = render_to_string("labsys/elements/form.html", {"form": form})
    assert "8 things are to be mended" in text
    assert "The bench is closed on 2026-12-24." in text
