"""The invented plant as data: departments, places, families, models, gauges. No real maker, no real place."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

D = Decimal
ALL = ("outside", "inside", "depth", "step")
EDGES = (*ALL, "small_bore")

DEPARTMENTS = (
    ("HS", "Housings", "Team lead, housings"),
    ("SH", "Shafts", "Team lead, shafts"),
    ("AS", "Assembly", "Team lead, assembly"),
    ("RI", "Receiving inspection", "Inspector, receiving"),
)
PLACES = (
    ("Calibration laboratory", ""),
    ("Standards cabinet", ""),
    ("Milling cell 1", "HS"),
    ("Milling cell 2", "HS"),
    ("Turning cell", "SH"),
    ("Grinding cell", "SH"),
    ("Assembly line", "AS"),
    ("Receiving bench", "RI"),
)
FAMILIES = (
    ("caliper", "Caliper", "0.75", 12),
    ("outside-micrometer", "Outside micrometer", "0.75", 12),
    ("height-gauge", "Height gauge", "1.50", 12),
    ("dial-indicator", "Dial indicator", "0.50", 12),
    ("plain-plug", "Plain plug gauge", "0.40", 12),
    ("setting-ring", "Setting ring", "0.40", 24),
    ("bore-gauge", "Bore gauge", "0.50", 12),
    ("checker-bar", "Checker bar", "0.60", 12),
    ("depth-gauge", "Depth gauge", "0.50", 12),
    ("depth-micrometer", "Depth micrometer", "0.75", 12),
    ("digital-indicator", "Digital indicator", "0.50", 12),
    ("feeler", "Feeler gauges", "0.30", 12),
    ("gauge-block", "Gauge blocks", "1.50", 24),
    ("inside-micrometer", "Inside micrometer", "0.60", 12),
    ("lever-indicator", "Lever indicator", "0.50", 12),
    ("plain-pin", "Plain pins", "1.00", 12),
    ("plain-ring", "Plain ring gauge", "0.40", 12),
    ("radius-gauge", "Radius gauges", "0.40", 12),
    ("surface-plate", "Surface plate", "2.00", 12),
    ("thread-plug", "Thread plug gauge", "0.60", 12),
    ("protractor", "Bevel protractor", "0.60", 24),
)
OF_ANGLES = ("protractor",)
"""Families that measure angles; their ranges below are in arc seconds."""


@dataclass(frozen=True)
class DemoModel:
    """A model as it is registered; the range in mm, ``step`` in the unit shown; ``made`` what its limits depend on."""

    key: str
    family: str
    designation: str
    indication: str
    step: str
    range_high: str
    unit: str = "mm"
    functions: tuple[str, ...] = ()
    inside_jaws: str = "none"
    scale_period: str | None = None
    range_low: str = "0"
    made: dict[str, Any] = field(default_factory=dict)
    members: tuple[tuple[str, str], ...] = ()


MAKER = "Example Instruments"
EDGED: dict[str, Any] = {"functions": EDGES, "inside_jaws": "knife-edges"}
NIBBED: dict[str, Any] = {"functions": ("outside", "inside", "depth"), "inside_jaws": "nibs"}
OUTSIDE: dict[str, Any] = {"functions": ("outside",)}
SCALE: dict[str, Any] = {"scale_period": "5.08"}
MODELS = (
    DemoModel("D150", "caliper", "Digital caliper 150", "digital", "0.01", "150", **EDGED, **SCALE),
    DemoModel("D200", "caliper", "Digital caliper 200", "digital", "0.01", "200", **EDGED, **SCALE),
    DemoModel("D300", "caliper", "Digital caliper 300", "digital", "0.01", "300", **NIBBED, **SCALE),
    DemoModel("D6", "caliper", "Digital caliper 6 in", "digital", "0.0005", "152.4", "in", **EDGED, **SCALE),
    DemoModel("A150", "caliper", "Dial caliper 150", "dial", "0.02", "150", **EDGED),
    DemoModel("V150", "caliper", "Vernier caliper 150", "vernier", "0.05", "150", **EDGED),
    DemoModel("M25", "outside-micrometer", "Outside micrometer 0-25", "digital", "0.001", "25", **OUTSIDE),
    DemoModel(
        "M50", "outside-micrometer", "Outside micrometer 25-50", "digital", "0.001", "50", range_low="25", **OUTSIDE
    ),
    DemoModel("H300", "height-gauge", "Height gauge 300", "digital", "0.01", "300", functions=("height",)),
    DemoModel("I10", "dial-indicator", "Dial indicator 10", "dial", "0.01", "10", functions=("travel",)),
    DemoModel(
        "P20", "plain-plug", "Plug gauge 20 H7 GO/NO-GO", "none", "0.001", "20.021", range_low="20",
        functions=("go", "no_go"), made={"grade": "IT7"}, members=(("GO", "20"), ("NO-GO", "20.021")),
    ),
    DemoModel("R25", "setting-ring", "Setting ring 25", "none", "0.001", "25", functions=("size",)),
    DemoModel(
        "I025", "dial-indicator", "Dial indicator 0.25 in", "dial", "0.0005", "6.35", "in", functions=("travel",)
    ),
    DemoModel("B12", "bore-gauge", "Bore gauge, travel 1.2", "dial", "0.01", "1.2", functions=("travel",)),
    DemoModel(
        "K150", "checker-bar", "Checker bar 150", "none", "0.001", "150", functions=("size",),
        members=(("step 25", "25"), ("step 50", "50"), ("step 100", "100"), ("step 150", "150")),
    ),
    DemoModel("DG150", "depth-gauge", "Depth gauge 150", "digital", "0.01", "150", functions=("depth",)),
    DemoModel("DM50", "depth-micrometer", "Depth micrometer 0-50", "digital", "0.001", "50", functions=("depth",)),
    DemoModel("DI12", "digital-indicator", "Digital indicator 12.5", "digital", "0.001", "12.5", functions=("travel",)),
    DemoModel(
        "F1", "feeler", "Feeler gauges 0.05-1", "none", "0.001", "1", functions=("thickness",),
        members=(("0.05", "0.05"), ("0.1", "0.1"), ("0.3", "0.3"), ("0.5", "0.5"), ("1", "1")),
    ),
    DemoModel(
        "BS8", "gauge-block", "Gauge block set, grade 2", "none", "0.001", "100", functions=("size",),
        made={"grade": "2"},
        members=tuple((size, size) for size in ("1.005", "1.01", "1.1", "2", "5", "10", "25", "100")),
    ),
    DemoModel(
        "B50", "gauge-block", "Gauge block 50, grade 1", "none", "0.001", "50", functions=("size",),
        made={"grade": "1"}, members=(("50", "50"),),
    ),
    DemoModel(
        "IM30", "inside-micrometer", "Inside micrometer 5-30", "digital", "0.001", "30", range_low="5",
        functions=("inside",),
    ),
    DemoModel("L08", "lever-indicator", "Lever indicator 0.8", "dial", "0.01", "0.8", functions=("travel",)),
    DemoModel(
        "PN10", "plain-pin", "Pin gauges 1-10, class 2", "none", "0.001", "10", functions=("size",),
        made={"grade": "2"}, members=tuple((size, size) for size in ("1", "2", "5", "10")),
    ),
    DemoModel(
        "PN6", "plain-pin", "Pin gauge 6, class 1", "none", "0.001", "6", functions=("size",), made={"grade": "1"},
        members=(("6", "6"),),
    ),
    DemoModel(
        "RG50", "plain-ring", "Ring gauge 50 GO", "none", "0.001", "50", functions=("go",), made={"grade": "Z"}
    ),
    DemoModel(
        "RA7", "radius-gauge", "Radius gauges 1-7", "none", "0.001", "7", functions=("radius",),
        members=tuple((size, size) for size in ("1", "2", "4", "7")),
    ),
    DemoModel(
        "SP63", "surface-plate", "Surface plate 630 x 400", "none", "0.001", "746.3", functions=("flatness",),
        made={"grade": "1"},
    ),
    DemoModel(
        "T10", "thread-plug", "Thread plug M10 GO/NO-GO", "none", "0.001", "9.206", range_low="9.026",
        functions=("go", "no_go"), made={"tolerance_mm": D("0.009")}, members=(("GO", "9.026"), ("NO-GO", "9.206")),
    ),
    DemoModel("A5", "protractor", "Vernier protractor 5′", "vernier", "5", "1296000", "′", functions=("angle",)),
    DemoModel("A001", "protractor", "Digital protractor", "digital", "0.01", "1296000", "°", functions=("angle",)),
)  # fmt: skip

# How many calipers of each model, in which department.
CALIPERS = (
    ("D150", "SH", 7), ("D150", "HS", 7), ("D150", "AS", 4), ("D150", "RI", 2), ("D200", "HS", 3), ("D200", "SH", 2),
    ("D300", "RI", 2), ("D6", "SH", 3), ("D6", "AS", 2), ("A150", "HS", 3), ("A150", "AS", 1), ("V150", "AS", 2),
    ("V150", "SH", 2),
)  # fmt: skip
OTHERS = (
    ("M25", "SH", 4), ("M25", "HS", 2), ("M50", "SH", 3), ("H300", "RI", 2), ("I10", "SH", 3), ("I10", "AS", 2),
    ("P20", "HS", 3), ("R25", "RI", 2), ("I025", "SH", 2), ("B12", "HS", 2), ("K150", "RI", 2), ("DG150", "HS", 2),
    ("DM50", "SH", 2), ("DI12", "AS", 2), ("F1", "AS", 2), ("BS8", "RI", 1), ("B50", "RI", 1), ("IM30", "HS", 2),
    ("L08", "SH", 2), ("PN10", "RI", 1), ("PN6", "SH", 1), ("RG50", "SH", 2), ("RA7", "RI", 2), ("SP63", "RI", 2),
    ("T10", "HS", 2),
    ("A5", "HS", 2), ("A001", "SH", 1),
)  # fmt: skip
PREFIX = {
    "caliper": "C",
    "outside-micrometer": "M",
    "height-gauge": "H",
    "dial-indicator": "I",
    "plain-plug": "P",
    "setting-ring": "R",
    "bore-gauge": "B",
    "checker-bar": "K",
    "depth-gauge": "D",
    "depth-micrometer": "DM",
    "digital-indicator": "DI",
    "feeler": "F",
    "gauge-block": "BL",
    "inside-micrometer": "IM",
    "lever-indicator": "L",
    "plain-pin": "PN",
    "plain-ring": "PR",
    "radius-gauge": "RG",
    "surface-plate": "SP",
    "thread-plug": "T",
    "protractor": "A",
}
PLACE_OF = {
    "HS": ("Milling cell 1", "Milling cell 2"),
    "SH": ("Turning cell", "Grinding cell"),
    "AS": ("Assembly line",),
    "RI": ("Receiving bench",),
}
