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
)


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
)  # fmt: skip

# How many calipers of each model, in which department.
CALIPERS = (
    ("D150", "SH", 7), ("D150", "HS", 7), ("D150", "AS", 4), ("D150", "RI", 2), ("D200", "HS", 3), ("D200", "SH", 2),
    ("D300", "RI", 2), ("D6", "SH", 3), ("D6", "AS", 2), ("A150", "HS", 3), ("A150", "AS", 1), ("V150", "AS", 2),
    ("V150", "SH", 2),
)  # fmt: skip
OTHERS = (
    ("M25", "SH", 4), ("M25", "HS", 2), ("M50", "SH", 3), ("H300", "RI", 2), ("I10", "SH", 3), ("I10", "AS", 2),
    ("P20", "HS", 3), ("R25", "RI", 1),
)  # fmt: skip
PREFIX = {
    "caliper": "C",
    "outside-micrometer": "M",
    "height-gauge": "H",
    "dial-indicator": "I",
    "plain-plug": "P",
    "setting-ring": "R",
}
PLACE_OF = {
    "HS": ("Milling cell 1", "Milling cell 2"),
    "SH": ("Turning cell", "Grinding cell"),
    "AS": ("Assembly line",),
    "RI": ("Receiving bench",),
}
