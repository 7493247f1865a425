"""What the gauges that aren't calipers have behind them: calibrated outside or here, lying ready, called in, new.

Lives here: tags and days ago. May not live here: how a calibration comes about (stories.py).
"""

from __future__ import annotations

from instruments.desk.demo.stories import Story

OUTSIDE: tuple[tuple[str, int], ...] = (
    ("H-0001", 375), ("H-0002", 350), ("I-0001", 330), ("I-0002", 310), ("I-0003", 290), ("I-0004", 270),
    ("I-0005", 250), ("I-0006", 170), ("I-0007", 363), ("M-0001", 230), ("M-0002", 210), ("M-0003", 190),
    ("M-0004", 170), ("M-0005", 150), ("M-0006", 130), ("M-0007", 110), ("M-0008", 90), ("M-0009", 70),
    ("P-0001", 50), ("P-0002", 340), ("P-0003", 361), ("R-0001", 80), ("B-0001", 200), ("B-0002", 362),
    ("K-0001", 120), ("K-0002", 350), ("D-0001", 380), ("D-0002", 345), ("DM-0001", 260), ("DM-0002", 358),
    ("DI-0001", 100), ("DI-0002", 366), ("F-0001", 385), ("F-0002", 344), ("BL-0001", 180), ("IM-0001", 220),
    ("IM-0002", 355), ("L-0001", 95), ("L-0002", 359), ("PN-0001", 145), ("PN-0002", 352), ("PR-0001", 240),
    ("PR-0002", 360), ("RG-0001", 135), ("RG-0002", 349), ("SP-0001", 390), ("SP-0002", 347), ("T-0001", 215),
    ("T-0002", 353), ("A-0001", 300), ("A-0002", 410), ("A-0003", 160),
)  # fmt: skip
"""Days ago of a calibration elsewhere; those beyond a year are late unless they came here since."""

HERE = (
    Story("M-0001", 20, hours=5),
    Story("M-0007", 18, hours=5),
    Story("I-0001", 16, hours=5),
    Story("P-0001", 14, hours=5),
    Story("H-0001", 12, hours=24),
    Story("D-0001", 15, hours=5),
    Story("F-0001", 25),
    Story("SP-0001", 30, hours=26),
)
"""Calibrated here, with a certificate of this laboratory."""

# What soaks for half a day or longer came a day earlier, the plate two; the two without a history are new.
_RECEIVED = {
    1: (
        "M-0002", "I-0002", "P-0002", "M-0008", "I-0003", "P-0003", "I-0007", "D-0002", "DM-0002", "DI-0002",
        "F-0002", "IM-0002", "B-0002", "L-0002", "RG-0002", "A-0002", "A-0003",
    ),
    2: ("H-0002", "K-0002", "BL-0002", "R-0002", "PN-0002", "T-0002", "PR-0002"),
    3: ("SP-0002",),
}  # fmt: skip
READY = tuple(Story(tag, days, ends="received") for days, tags in _RECEIVED.items() for tag in tags)
"""Received and lying ready, of every family one at least: the bench can be tried on it."""
