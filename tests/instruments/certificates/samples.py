"""A certificate made by hand: an invented caliper with figures worked out by the program's own arithmetic.

Every field that applies is filled, so that each mandatory item can be taken away one at a time.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

from instruments.certificates.document import FORMAT, Document, words
from instruments.certificates.document import parts as p
from instruments.certificates.document import results as r
from instruments.certificates.document.conformity import Grounds, chance, state
from labsys.metrology.budget import Budget, combine
from labsys.metrology.components import Component, Distribution
from labsys.metrology.decision import Limits, Rule, RuleKind, decide
from labsys.metrology.reporting import report, uncertainty_sentence
from labsys.metrology.units import Unit, from_mm
from labsys.metrology.verdicts import Verdict, roll_up
from labsys.metrology.views import View, Views

D = Decimal
POINTS = (
    ("outside", "near_beam", "0", "0"),
    ("outside", "middle", "41.3", "41.3003"),
    ("outside", "tips", "90.6", "90.5996"),
    ("outside", "near_beam", "131.4", "131.4002"),
    ("outside", "tips", "150", "150.0001"),
    ("inside", "", "25", "25.0004"),
    ("depth", "", "41.3", "41.3003"),
    ("step", "", "20", "20.0001"),
    ("small_bore", "", "5", "4.9998"),
)
AS_FOUND = ("0.00", "41.31", "90.61", "131.42", "150.04", "25.01", "41.32", "20.01", "4.98")
AS_LEFT = ("0.00", "41.30", "90.60", "131.41", "150.01", "25.00", "41.31", "20.00", "4.99")
RULE = Rule(RuleKind.GUARDED, View.TEST_VALUE)


def budgets() -> Views:
    """Give both budgets of a caliper with a step of 0.01 mm, as its procedure would."""
    step = Component("resolution", 0.005, Distribution.RECTANGULAR, source="step 0.01 mm")
    block = Component("standard", 0.0006, Distribution.NORMAL, divisor=2.0, source="certificate")
    abbe = Component("parallelism of the faces", 0.003, Distribution.RECTANGULAR, source="study")
    return Views(calibration=combine([step, block, abbe]), test_value=combine([block, abbe]))


def line(number: int, point: tuple[str, str, str, str], reading: str, unit: Unit) -> r.Line:
    """Make one result of a point and the reading taken there."""
    function, place, nominal, reference = point
    error, views = D(reading) - D(reference), budgets()
    limits = Limits(D("-0.03"), D("0.03"))
    found = decide(error_mm=error, limits=limits, rule=RULE, views=views)
    shown = report(error, views.calibration.U_mm, unit=unit)
    decimals = 2 if unit is Unit.MM else 4
    return r.Line(
        number=number,
        function=function,
        place=place,
        nominal_mm=D(nominal),
        reference_mm=D(reference),
        reading_mm=D(reading),
        error_mm=error,
        U_mm=_mm(views.calibration),
        k=D(str(round(views.calibration.k, 3))),
        printed=r.Printed(
            length=f"{from_mm(D(nominal), unit, decimals=decimals):f}",
            reference=f"{from_mm(D(reference), unit, decimals=decimals + 2):f}",
            reading=f"{from_mm(D(reading), unit, decimals=decimals):f}",
            error=shown.text.split(" ")[0].lstrip("("),
            U=f"{shown.U:f}",
        ),
        standards=("S-BLOCKS-1",) if function != "small_bore" else ("S-RING-5",),
        lower_mm=limits.lower,
        upper_mm=limits.upper,
        acceptance_lower_mm=found.acceptance.lower,
        acceptance_upper_mm=found.acceptance.upper,
        U_used_mm=_mm(views.test_value),
        verdict=found.verdict.value,
        conformance=chance(found.conformance_probability),
        note=found.note,
    )


def _mm(budget: Budget) -> D:
    return D(repr(budget.U_mm)).quantize(D("1e-9"))


def stage(name: str, readings: tuple[str, ...], first: int, unit: Unit) -> r.Stage:
    """Make a stage of all points."""
    lines = tuple(
        line(first + n, point, reading, unit)
        for n, (point, reading) in enumerate(zip(POINTS, readings, strict=True))
    )
    return r.Stage(
        name=name,
        measured_from=date(2026, 11, 24),
        measured_to=date(2026, 11, 25),
        lines=lines,
        zero="Zero as found 0.00 mm, set once with the outside faces before measuring; at the end 0.00 mm.",
        verdict=roll_up(Verdict(one.verdict) for one in lines).value,
    )


def document(unit: Unit = Unit.MM) -> Document:
    """Make the certificate of an adjusted caliper, with deviations, remarks and a due date."""
    stages = (stage("as-found", AS_FOUND, 1, unit), stage("as-left", AS_LEFT, len(POINTS) + 1, unit))
    view = budgets()
    grounds = Grounds(
        "Plant instruction Q-07, table 2", False, True, "Housings, by its area lead, 2026-01-05", RULE
    )
    numbers = tuple(one.number for one in _lines(stages))
    return Document(
        format=FORMAT,
        title=words.TITLE,
        number="CAL-00042",
        code="0123456789abcdef0123456789abcdef",
        verification_url="http://127.0.0.1:8000/verify/0123456789abcdef0123456789abcdef/",
        laboratory=p.Laboratory(
            "Calibration laboratory of the pump works", "Works road 4\n4020 Plant", "laboratory@plant.example"
        ),
        place="Laboratory, room 1",
        place_is_laboratory=True,
        customer=p.Customer("Housings", "area lead of Housings, extension 210"),
        item=p.Item(
            tag="C-0117",
            family="Caliper",
            maker="Maker A",
            model="D150",
            serial="A-5511",
            unit=unit.value,
            resolution="0.01" if unit is Unit.MM else "0.0005",
            range_text="0 mm to 150 mm" if unit is Unit.MM else "0 in to 6 in",
            functions=("outside", "inside", "depth", "step", "small bore"),
        ),
        receipt=p.Receipt(date(2026, 11, 23), "clean; light marks on the beam; thumb roller worn"),
        calibrated_from=date(2026, 11, 24),
        calibrated_to=date(2026, 11, 25),
        issued_on=date(2026, 11, 25),
        zone="Europe/Vienna",
        method=p.Method("P-CAL", "Calipers up to 300 mm", 3, date(2026, 2, 2), ("ISO 13385-1:2019",)),
        conditions=p.Conditions(
            temperature_mean_c=D("20.3"),
            temperature_low_c=D("20.1"),
            temperature_high_c=D("20.6"),
            humidity="46 % to 49 %",
            sensors=("S-THERM-2",),
            soak="In the laboratory for 24 h before the first reading (at least 60 min asked by the procedure).",
            expansion="Linear thermal expansion coefficient of the gauge 11.5 µm/(m·K)",
            reference=words.REFERENCE,
        ),
        standards=(
            p.StandardUsed(
                "S-BLOCKS-1",
                "Gauge block set, 46 pieces",
                "B-2207",
                "KB-881/26",
                "Invented accredited laboratory",
                "accredited laboratory, service in its scope",
                date(2026, 3, 2),
                date(2028, 3, 2),
            ),
            p.StandardUsed(
                "S-RING-5",
                "Setting ring 5 mm",
                "R-0034",
                "KB-902/26",
                "Invented accredited laboratory",
                "accredited laboratory, service in its scope",
                date(2026, 4, 14),
                date(2028, 4, 14),
            ),
        ),
        stages=stages,
        uncertainty=r.Uncertainty(
            words.U_BASIS, (r.Coverage(numbers, uncertainty_sentence(view.calibration)),)
        ),
        statements=p.Statements(
            measurand=words.MEASURAND,
            sign=words.SIGN,
            relates_only=words.RELATES_ONLY,
            reproduction=words.REPRODUCTION,
            traceability=words.TRACEABILITY,
            sets=words.TWO_SETS,
            limited="Limited calibration: scribing was not measured; nothing is stated about it.",
            one_signature="",
        ),
        signers=(
            p.Signer(
                "person:2",
                "Technician 1",
                "technician",
                "performed",
                datetime(2026, 11, 25, 8, 40, tzinfo=UTC),
            ),
            p.Signer(
                "person:3", "Reviewer 1", "reviewer", "authorised", datetime(2026, 11, 25, 9, 5, tzinfo=UTC)
            ),
        ),
        conformity=state(stages, grounds, [view.of(RULE.view)]),
        adjustments=(
            p.Adjustment(
                "Gib screws set, thumb roller replaced.", date(2026, 11, 25), "Technician 1", "thumb roller"
            ),
        ),
        deviations=(
            p.Deviation(
                "One point at the tips beyond 100 mm was planned, two were taken.",
                "The faces show a burr near the tips.",
                "Reviewer 1",
            ),
        ),
        not_measured=("scribing",),
        customer_data=("The limits of error were stated by the customer (Plant instruction Q-07, table 2).",),
        remarks=("The clamp holds weakly.",),
        due=p.Due(date(2027, 11, 25), "agreed by the area lead of Housings, 2026-01-05"),
    )


def one_set(unit: Unit = Unit.MM) -> Document:
    """Make the certificate of a caliper that needed no adjustment: one set serves as found and as left."""
    made = document(unit)
    stages = (stage("as-found", AS_LEFT, 1, unit),)
    numbers = tuple(one.number for one in _lines(stages))
    grounds = Grounds(
        "Plant instruction Q-07, table 2", True, True, "Housings, by its area lead, 2026-01-05", RULE
    )
    return replace(
        made,
        stages=stages,
        uncertainty=replace(
            made.uncertainty, coverage=(replace(made.uncertainty.coverage[0], results=numbers),)
        ),
        conformity=state(stages, grounds, [budgets().of(RULE.view)]),
        statements=replace(made.statements, sets=words.ONE_SET, limited=""),
        adjustments=(),
        deviations=(),
        not_measured=(),
        remarks=(),
        due=None,
    )


def rejected_at_sight() -> Document:
    """Make the certificate of a caliper whose looks ended the job before anything was measured."""
    made = one_set()
    return replace(
        made,
        stages=(),
        standards=(),
        uncertainty=replace(made.uncertainty, coverage=()),
        conformity=None,
        customer_data=(),
        rejections=("Not good: the jaws meet without light between them (jaw bent)",),
        statements=replace(made.statements, sets=words.NOTHING_MEASURED),
    )


def _lines(stages: tuple[r.Stage, ...]) -> list[r.Line]:
    return [one for each in stages for one in each.lines]
