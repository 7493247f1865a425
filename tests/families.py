"""A laboratory with one more family, for tests of what isn't a caliper: its procedure, standards, gauge and session.

Contents are small and made for tests; what a laboratory works by ships with the program.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from instruments.inventory.models import Gauge
from instruments.inventory.operations import (
    GaugeData,
    LimitsData,
    ModelData,
    add_member,
    register_gauge,
    register_model,
    set_limits,
)
from instruments.measuring.evaluation import ground_of, prospect_of
from instruments.measuring.models import Point, Submission
from instruments.measuring.operations import open_session, submit
from instruments.procedures.content import dump, parse
from instruments.procedures.operations import approve_revision, draft_revision, start_procedure
from instruments.procedures.scales import scale_of
from instruments.recall.operations import receive
from labsys.accounts.models import Activity
from labsys.accounts.operations import Grant, authorise
from labsys.laboratory.models import Family
from labsys.laboratory.operations import AgreementTerms, add_family, agree
from labsys.metrology.angle_readings import angle_text
from labsys.metrology.exact import plain
from labsys.metrology.units import Unit, from_mm
from standards.register.models import Standard
from standards.register.operations import ElementData, StandardData, register_standard
from tests.bench import MORNING, Player
from tests.instruments.certificates.traced import certify
from tests.laboratory import SETUP, START, Lab, proof

D = Decimal
BUDGET = [
    {"kind": "standard", "name": "value of the standard"},
    {"kind": "reading", "name": "reading"},
    {"kind": "zero", "name": "zero"},
    {"kind": "temperature_difference", "name": "temperature", "half_width_k": "0.3"},
]


def text_of(series: Sequence[dict[str, Any]], **changes: Any) -> str:
    """Write a content of these series in the form of a file."""
    content: dict[str, Any] = {
        "format": 2,
        "scope": "For tests.",
        "method": ["for tests"],
        "looks": [{"code": "identity", "text": "Tag and serial number agree with the record."}],
        "zero": {"fixed": False, "allowed_steps": 1, "how": "none"},
        "reading_rules": {},
        "readable_parts": {"digital": 1, "dial": 1},
        "repeats": 1,
        "conditions": {
            "temperature_low_c": "19", "temperature_high_c": "21", "humidity_low": "30", "humidity_high": "65",
            "soak_minutes": 60,
        },
        "references": {"U_mm": "0.0005", "U_per_mm": "0.000005"},
        "budget": BUDGET,
        "probability": "0.9545",
        "digits": 2,
        "rounding": "half-even",
        "rule": {"kind": "simple", "view": "calibration", "min_ratio": "1"},
        "series": list(series),
    }  # fmt: skip
    return json.dumps({**content, **changes})


@dataclass(frozen=True)
class Piece:
    """An element of a standard: what it is called, its size in mm, which functions it serves."""

    label: str
    nominal_mm: str
    functions: tuple[str, ...]
    continuous: bool = False


@dataclass
class Workplace:
    """One family in the laboratory, ready to measure a gauge of it."""

    lab: Lab
    code: str
    content: str
    limits: dict[str, tuple[str | None, str | None]]
    model: dict[str, Any]
    rule: dict[str, Any] = field(
        default_factory=lambda: {"kind": "simple", "view": "calibration", "min_ratio": 1}
    )
    family: Family = field(init=False)

    def __post_init__(self) -> None:
        """Record the family, who may work on it, its procedure and what was agreed."""
        lab, now = self.lab, START
        self.family = add_family(
            code=self.code,
            name=self.code.capitalize(),
            bench_hours=D(1),
            interval_months=12,
            quantity=parse(self.content).quantity,
            by=SETUP,
            now=now,
        )
        for who, activity in (
            (lab.technician, Activity.MEASURE),
            (lab.reviewer, Activity.REVIEW),
            (lab.reviewer, Activity.AUTHORISE),
            (lab.reviewer, Activity.APPROVE_PROCEDURES),
        ):
            grant = Grant(who, activity, self.family, lapses_on=date(2028, 1, 1), evidence="supervised runs")
            authorise(grant=grant, valid_from=now, by=SETUP, now=now)
        procedure = start_procedure(
            code=self.code.upper()[:10], title=self.code, family=self.family, by=lab.manager, now=now
        )
        draft = draft_revision(
            procedure=procedure, content_text=dump(parse(self.content)), change="", by=lab.manager, now=now
        )
        approve_revision(
            revision=draft,
            seen_sha256=draft.content_sha256,
            proof=proof(lab.reviewer, now),
            by=lab.reviewer,
            now=now,
        )
        agree(
            department=lab.department,
            family=self.family,
            terms=AgreementTerms(rule=self.rule, adjustment_allowed=True),
            agreed_by="shop lead",
            valid_from=now,
            by=SETUP,
            now=now,
        )

    def standard(self, tag: str, kind: str, pieces: Sequence[Piece]) -> Standard:
        """Register a standard with a certificate on file: every piece 0.1 µm more than nominal, U = 0.1 µm."""
        now = START
        elements = tuple(
            ElementData(
                one.label,
                D(one.nominal_mm),
                one.functions,
                stackable=not one.continuous,
                continuous=one.continuous,
            )
            for one in pieces
        )
        data = StandardData(
            tag=tag,
            kind=kind,
            name=f"Standard {tag}",
            serial=f"{tag}-1",
            place=self.lab.bench,
            interval_months=24,
            expansion_per_k=D("0.0000115"),
            elements=elements,
        )
        row = register_standard(data=data, by=self.lab.manager, now=now)
        certify(row, self.lab)
        return row

    def gauge(self, tag: str, members: Sequence[tuple[str, str]] = ()) -> Gauge:
        """Register a model with its limits and a gauge of it, with its members."""
        lab, now = self.lab, START
        model = register_model(
            data=ModelData(family=self.family, maker="Invented Tools", designation=f"M-{tag}", **self.model),
            by=lab.manager,
            now=now,
        )
        rows = [
            {
                "function": name,
                "up_to_mm": "1296000" if self.family.quantity == "angle" else "1000",
                "lower_mm": lower,
                "upper_mm": upper,
            }
            for name, (lower, upper) in self.limits.items()
        ]
        set_limits(
            model=model,
            data=LimitsData(rows, "common practice, no source"),
            valid_from=now,
            by=lab.manager,
            now=now,
        )
        data = GaugeData(
            tag=tag,
            model=model,
            serial=f"S-{tag}",
            department=lab.department,
            place=lab.shop,
            custodian=lab.floor,
            functions=tuple(model.functions),
        )
        row = register_gauge(data=data, by=lab.manager, now=now)
        for label, nominal in members:
            add_member(gauge=row, label=label, nominal_mm=D(nominal), by=lab.manager, now=now)
        return row

    def sit(self, gauge: Gauge, at: datetime = MORNING) -> Player:
        """Receive the gauge and open its session two hours later."""
        lab = self.lab
        receive(
            gauge=gauge, condition="clean, complete", damaged=False, place=lab.bench, at=at, by=lab.technician, now=at
        )  # fmt: skip
        now = at + timedelta(hours=2)
        session = open_session(gauge=gauge, place=lab.bench, by=lab.technician, now=now)
        return Player(session, lab.technician, now)


def read_at(player: Player, point: Point, error_mm: Decimal, content_text: str) -> Any:
    """Type what the scale shows at a point for an error (or deviation, or value) of so many mm."""
    content, model = parse(content_text), player.session.gauge.model
    scale = scale_of(point.function, model, content)
    held = prospect_of(point, ground_of(player.run)).held_mm
    if scale.unit is Unit.ARCMIN:
        return player.read(
            point, angle_text(round((held + error_mm) / scale.step_mm) * scale.step_mm, scale.unit)
        )
    value = from_mm(held + error_mm, scale.unit, decimals=12)
    return player.read(point, f"{plain(round(value / scale.step) * scale.step):f}")


def hand_in(player: Player) -> Submission:
    """Hand in a minute later."""
    player.now += timedelta(minutes=1)
    return submit(session=player.session, by=player.by, now=player.now)
