"""The file's description names every field there is, so that it can't fall behind."""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass
from types import SimpleNamespace
from typing import Any, get_args

from django.template.loader import render_to_string
from django.test import Client

from instruments.procedures.content import (
    Band,
    ConditionLimits,
    Content,
    Look,
    PointRules,
    ReferenceNeeds,
    Repeatability,
    ResultRule,
    Series,
    Window,
    ZeroPolicy,
)
from instruments.procedures.content import lengths as ways
from instruments.procedures.content.parts import ZEROS
from instruments.procedures.content.series import READS, RESULTS, ReadOn
from instruments.procedures.document.budget import KINDS
from labsys.metrology.rules import RuleKind
from labsys.metrology.specs import KINDS as SPEC_KINDS
from tests.laboratory import Lab

PARTS: tuple[Any, ...] = (
    Content,
    Look,
    ZeroPolicy,
    PointRules,
    Band,
    Window,
    ConditionLimits,
    ReferenceNeeds,
    Repeatability,
    Series,
    ResultRule,
    ReadOn,
    ways.Segment,
    *get_args(ways.Lengths),
)


def described() -> set[str]:
    text = render_to_string("instruments/procedures/help_file.html")
    return set(re.findall(r"<code>([^<\[]+)</code>", text))


def test_every_field_of_the_file_is_described() -> None:
    wanted = {field.name for part in PARTS for field in fields(part)}
    wanted |= {field.name for kind in SPEC_KINDS.values() if is_dataclass(kind) for field in fields(kind)}
    wanted |= {"kind", "view", "min_ratio", "g", "max_false_accept", "document"}
    wanted |= {*ZEROS, *READS, *RESULTS, *(way.kind for way in map(_default, get_args(ways.Lengths)))}
    assert wanted - described() == set()


def _default(way: Any) -> Any:
    """Give something with the kind that a way of lengths is written with."""
    return SimpleNamespace(kind=next(field.default for field in fields(way) if field.name == "kind"))


def test_every_kind_is_described_and_offered_with_its_own_sizes() -> None:
    assert {*SPEC_KINDS, *RuleKind} - described() == set()
    assert set(KINDS) == set(SPEC_KINDS)
    common = {"name", "source", "views", "distribution", "nu"}
    for name, kind in SPEC_KINDS.items():
        own = {field.name for field in fields(kind)} - common
        assert {size.field for size in KINDS[name].sizes} == own, name
        has_shape = "distribution" in {field.name for field in fields(kind)}
        assert KINDS[name].distribution == has_shape, name


def test_the_pages_of_procedures_lead_to_their_help(lab: Lab, client: Client) -> None:
    client.force_login(lab.technician)
    assert 'href="/help/procedures/"' in client.get("/lab/procedures/").content.decode()
    for slug in ("procedures", "procedure-file"):
        assert client.get(f"/help/{slug}/").status_code == 200


def test_the_help_of_approval_names_both_tables_as_the_page_heads_them() -> None:
    help_text = render_to_string("instruments/procedures/help.html")
    for name in ("trial", "comparison"):
        (heading,) = re.findall(
            r"<h2[^>]*>([^<]+)</h2>", render_to_string(f"instruments/procedures/{name}.html")
        )
        assert f"<b>{heading}</b>" in help_text
