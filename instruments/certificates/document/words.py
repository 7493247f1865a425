"""The fixed sentences of a certificate and the trade's words for functions and places.

A stored document holds its sentences itself, so changing one here changes later certificates only.
"""

from __future__ import annotations

from collections.abc import Iterable

TITLE = "Calibration certificate"

FUNCTIONS = {
    "outside": "outside",
    "inside": "inside",
    "depth": "depth",
    "step": "step",
    "small_bore": "small bore",
    "go": "GO size",
    "no_go": "NO-GO size",
    "zero": "zero, faces closed",
}
PLACES = {"near_beam": "near the beam", "middle": "middle", "tips": "tips", "": ""}
STAGES = {"as-found": "As found", "as-left": "As left"}
BOTH = "As found and as left"

MEASURAND = (
    "Error of indication E: the length the gauge indicates minus the reference length, at the place on the measuring "
    "faces named beside the result."
)
ANGLE_MEASURAND = (
    "Error of indication E: the angle the gauge indicates minus the reference angle, at the place named beside the "
    "result."
)
ANGLE_SIGN = (
    "A positive error means that the gauge shows too large an angle. "
    "A reading is corrected by subtracting the error."
)
ANGLE_EXPANSION = "No expansion enters: an angle stays the same when gauge and standard warm alike."
ANGLE_REFERENCE = (
    "The reference temperature is 20 °C (ISO 1). No correction for temperature was applied, and the stated uncertainty "
    "has no part of it."
)
ANGLE_TRACEABILITY = (
    "The results are traceable to the radian of the International System of Units through the standards listed, each "
    "used within the validity of the certificate named beside it."
)
MEASURED = {
    "error": MEASURAND,
    "deviation": "Deviation of size: the measured size minus the nominal size.",
    "value": "Value: what is named beside the result, zero or more.",
    "span": "Error span: the largest minus the smallest of the errors named.",
    "section": "Error span over a short section: the largest difference of two errors within the section named.",
    "hysteresis": "Hysteresis: the largest difference of errors going up and coming down at one length.",
    "spread": "Repeatability: the largest minus the smallest of the readings at one point.",
    "variation": "Variation: the largest minus the smallest result at the places of one length.",
    "roundness": "Out of round: half of the largest difference of two directions in one section.",
    "taper": "Taper: the largest difference of two sections along one line.",
    "attribute": "Fit: whether what is named beside the result holds; nothing was measured.",
}
"""What each kind of result is."""
NO_SIGN = "The results are zero or more and have no sign."
SIZE_SIGN = "A positive deviation means that the gauge is larger than its nominal size."
SIGN = (
    "A positive error means that the gauge reads too long. A reading is corrected by subtracting the error."
)
REFERENCE = (
    "All values refer to 20 °C (ISO 1). No correction for temperature was applied; its effect is contained in the "
    "stated uncertainty."
)
REFERENCE_CORRECTED = (
    "All values refer to 20 °C (ISO 1). The readings were corrected to it with the temperatures measured."
)
RELATES_ONLY = (
    "The results relate only to the item described in this certificate and to the time of its calibration."
)
REPRODUCTION = (
    "This certificate shall not be reproduced except in full without written approval of the laboratory."
)
TRACEABILITY = (
    "The results are traceable to the metre of the International System of Units through the standards listed, each "
    "used within the validity of the certificate named beside it."
)
ONE_SET = "No adjustment was made: one set of results serves as found and as left."
TWO_SETS = "The gauge was adjusted between the two sets of results; both are given."
ONLY_LEFT = "Results as found could not be obtained: {reason}"
U_BASIS = (
    "U is the expanded uncertainty of measurement of the result stated beside it, in the same unit. It includes the "
    "contributions of the standards, of the conditions and of the gauge itself (resolution and repeatability)."
)
DEPARTURE = (
    "The gauge was received with the departure described above and was calibrated all the same. The results hold for "
    "that condition; whether it affects use was not examined."
)
NO_DEPARTURE = "no departure noted"
LIMITED = "Limited calibration: {functions} not measured; nothing is stated about {it}."
REJECTED = "The gauge was rejected as it is. {reasons}"
NOTHING_MEASURED = "The work ended before anything was measured."
ONE_SIGNATURE = (
    "The laboratory works without a second signature by its decision of {day} ({who}). Reason: {reason}."
)
SAME_PERSON = "The person who measured also authorised this certificate."


def function_word(function: str) -> str:
    """Give the trade's word for a measuring function."""
    return FUNCTIONS.get(function, function.replace("_", " "))


def place_word(place: str) -> str:
    """Give the words for a place on the measuring faces; empty where a function has none."""
    return PLACES.get(place, place.replace("_", " "))


def numbers(found: Iterable[int]) -> str:
    """Write result numbers shortly: 1 to 4, 6, 8 and 9 become “1–4, 6, 8, 9”."""
    runs: list[list[int]] = []
    for number in sorted(found):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    parts = [f"{run[0]}–{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs]
    return ", ".join(parts)


def results(found: Iterable[int]) -> str:
    """Write “result 4” or “results 1–3, 5”."""
    listed = sorted(found)
    return f"result{'' if len(listed) == 1 else 's'} {numbers(listed)}"


def listing(words: Iterable[str]) -> str:
    """Join words as a sentence does: one, two and three."""
    found = list(words)
    return " and ".join(filter(None, (", ".join(found[:-1]), found[-1]))) if found else ""
