"""The demo laboratory's standards as data: what is held, who calibrated it, with which uncertainty. All invented."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from standards.register.operations import ElementData

D = Decimal
MM, INCH = D(1), D("25.4")
LENGTHS = ("outside", "depth", "step", "height")
METRIC = (
    "1.005",
    *(f"1.0{n}" for n in range(1, 10)),
    *(f"1.{n}" for n in range(1, 10)),
    *(str(n) for n in range(1, 25)),
    *("25", "50", "75", "100"),
)
MICROMETER = ("2.5", "5.1", "7.7", "10.3", "12.9", "15", "17.6", "20.2", "22.8", "25", "50")
LONG = ("125", "150", "175", "200", "250", "300")
IMPERIAL = (*(f"0.{n}" for n in range(1, 10)), "0.05", "0.125", "0.625", "0.55", "1", "2", "3", "4")

INSTITUTE = "Institute of Metrology (invented)"
ACCREDITED = "Length laboratory North (invented)"
HERE = "Calibration laboratory of the pump works"


@dataclass(frozen=True)
class Scope:
    """An issuer with what it is recognised for; ``cmc`` is the constant part of the smallest U, in mm."""

    name: str
    kind: str
    body: str = ""
    number: str = ""
    cmc: str = "0"
    quantities: tuple[str, ...] = ("gauge-block", "ring", "step")


ISSUERS = (
    Scope(INSTITUTE, "institute", "Mutual recognition arrangement", "IM-L-03", "0.00001"),
    Scope(
        ACCREDITED,
        "accredited",
        "Accreditation body (invented)",
        "LAB-0815",
        "0.00005",
        ("gauge-block", "ring", "step", "pin", "length", "flatness", "angle"),
    ),
    Scope(HERE, "in-house"),
)


@dataclass(frozen=True)
class Paper:
    """One certificate to receive: who issued it, by which route, on what it relies; U in mm and per mm.

    U of angles is in arc seconds.
    """

    issuer: str
    number: str
    route: str
    days_before: int
    U_mm: str
    U_per_mm: str = "0"
    quantity: str = "gauge-block"
    relies_on: tuple[str, ...] = ()

    @property
    def stated_traceability(self) -> str:
        """What the certificate says of its own chain."""
        if self.route == "1":
            return "Own realization of the metre."
        if self.route == "2":
            return f"Traceable to the {INSTITUTE}, certificate IM 2108."
        return "By comparison with the reference gauge blocks of this laboratory."


@dataclass(frozen=True)
class Held:
    """A standard that is held, with its certificate; ``after_days``: how long after the others it was compared."""

    tag: str
    kind: str
    name: str
    elements: tuple[ElementData, ...]
    paper: Paper
    grade: str = ""
    months: int = 24
    after_days: int = 0


def _blocks(
    sizes: Iterable[str], unit: Decimal = MM, serves: tuple[str, ...] = LENGTHS
) -> tuple[ElementData, ...]:
    word = "mm" if unit == MM else "in"
    return tuple(ElementData(f"{size} {word}", D(size) * unit, serves, stackable=True) for size in sizes)


def _machine(tag: str, kind: str, name: str, element: tuple[str, str], paper: tuple[str, str, str]) -> Held:
    """Describe what measures every length up to its own: function and length of its element; number, U, quantity."""
    (function, up_to), (number, U_mm, quantity) = element, paper
    return Held(
        tag,
        kind,
        name,
        (ElementData(function.replace("_", " "), D(up_to), (function,), continuous=True),),
        Paper(ACCREDITED, number, "2", 40, U_mm, quantity=quantity),
    )


def _ring(tag: str, size: str, function: str, number: str) -> Held:
    paper = Paper(ACCREDITED, number, "2", 35, "0.0004", quantity="ring")
    return Held(tag, "ring", f"Setting ring {size} mm", (ElementData(size, D(size), (function,)),), paper)


# The reference set serves gauge blocks alone: the working set is compared with it too, after its certificate was
# accepted.
STOCK = (
    Held(
        "GB-01",
        "block-set",
        "Reference gauge blocks",
        _blocks(METRIC, serves=("size",)),
        Paper(INSTITUTE, "IM 2291", "1", 70, "0.00002", "0.0000002"),
        grade="K",
    ),
    Held(
        "GB-02",
        "block-set",
        "Working gauge blocks",
        _blocks(METRIC),
        Paper(HERE, "IN 0017", "in-house", 1, "0.00008", "0.0000005", relies_on=("GB-01",)),
        grade="1",
        after_days=3,
    ),
    Held(
        "GB-03",
        "block-set",
        "Long gauge blocks",
        _blocks(LONG),
        Paper(ACCREDITED, "N 88-1402", "2", 40, "0.0001", "0.0000005"),
        grade="1",
    ),
    Held(
        "GB-04",
        "block-set",
        "Inch gauge blocks",
        _blocks(IMPERIAL, INCH),
        Paper(ACCREDITED, "N 88-1403", "2", 40, "0.0001", "0.0000005"),
        grade="1",
    ),
    Held(
        "GB-05",
        "block-set",
        "Micrometer blocks",
        _blocks(MICROMETER, serves=("outside",)),
        Paper(ACCREDITED, "N 88-1404", "2", 40, "0.0001", "0.0000005"),
        grade="1",
    ),
    Held(
        "OF-01",
        "optical-flat",
        "Optical flat 45",
        (ElementData("flat", D(45), ("flatness",), continuous=True),),
        Paper(ACCREDITED, "N 88-1520", "2", 40, "0.00006", quantity="flatness"),
    ),
    Held(
        "IT-01",
        "tester",
        "Indicator tester 25",
        (ElementData("spindle", D(25), ("travel",), continuous=True),),
        Paper(ACCREDITED, "N 88-1530", "2", 40, "0.0004", quantity="step"),
    ),
    _ring("SR-01", "25", "inside", "N 88-1501"),
    _ring("SR-02", "5", "small_bore", "N 88-1502"),
    _ring("SR-03", "5.08", "small_bore", "N 88-1503"),
    _ring("SR-04", "25.4", "inside", "N 88-1504"),
    # Never recalibrated: this one is past due, and the planner leaves it alone.
    Held(
        "CB-01",
        "check-bar",
        "Check bar 200",
        tuple(ElementData(f"step {n}", D(n), ("outside",)) for n in (25, 50, 100, 150, 200)),
        Paper(ACCREDITED, "N 88-1466", "2", 30, "0.0005", "0.000001", quantity="step"),
        months=12,
    ),
    _machine(
        "LM-01", "micrometer", "Length machine 300", ("inside", "300"), ("N 88-1601", "0.0003", "length")
    ),
    _machine(
        "TC-01", "micrometer", "Thickness comparator", ("thickness", "25"), ("N 88-1602", "0.0008", "length")
    ),
    _machine("PJ-01", "micrometer", "Profile projector", ("radius", "50"), ("N 88-1603", "0.003", "length")),
    _machine(
        "EL-01", "micrometer", "Electronic level", ("flatness", "1000"), ("N 88-1604", "0.0006", "flatness")
    ),
    _machine("MW-01", "wires", "Measuring wires", ("pitch_diameter", "50"), ("N 88-1605", "0.00025", "pin")),
    Held(
        "AB-01",
        "angle-blocks",
        "Angle blocks",
        tuple(ElementData(f"{angle}°", D(3600 * angle), ("angle",)) for angle in (15, 30, 45, 60, 90)),
        Paper(ACCREDITED, "N 88-1710", "2", 40, "2", quantity="angle"),
        grade="1",
    ),
)
