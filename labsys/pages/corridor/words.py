"""The corridor in words: the same numbers and the margin, for those who hear the page and for the title of the picture.

Rounding here is for reading only: as far as U reaches, but never so far that a margin vanishes.
"""

from __future__ import annotations

from decimal import Decimal

from labsys.pages.corridor.data import CorridorData
from labsys.pages.figures import plain, signed, with_unit

FINEST = 9  # decimals; lengths are kept to 1e-9 mm


def verdict_word(verdict: str | None) -> str:
    """Give the verdict as it is said."""
    return verdict.replace("_", " ") if verdict else "no verdict"


def _decimals(number: Decimal) -> int:
    exponent = number.normalize().as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def _digit(number: Decimal, figures: int) -> int:
    """Give the decimals that show so many significant figures of a number that is not zero."""
    return max(0, figures - 1 - number.adjusted())


def places(data: CorridorData) -> int:
    """Give the decimals that error, U and margin are shown with."""
    step = _decimals(Decimal(data.step_text)) if data.step_text else 0
    found = step
    if data.U_mm:
        found = max(found, _digit(data.shown(data.U_mm), 2))
    elif not data.step_text:
        found = min(_decimals(data.shown(data.error_mm)), FINEST)
    if data.margin_mm:
        # Half a unit of the last place must not make an error seem to lie on its limit.
        found = max(found, _digit(data.shown(data.margin_mm), 1))
    return min(found, FINEST)


def limit_text(data: CorridorData, limit_mm: Decimal) -> str:
    """Give a limit as agreed, without padding beyond the step."""
    value = data.shown(limit_mm)
    step = _decimals(Decimal(data.step_text)) if data.step_text else 0
    return signed(value, places=min(max(step, _decimals(round(value, FINEST))), FINEST))


def error_text(data: CorridorData, error_mm: Decimal) -> str:
    """Give an error with its sign and unit, to the picture's decimals."""
    return with_unit(signed(data.shown(error_mm), places=places(data)), data.unit)


def beyond_text(data: CorridorData, *, error_is_beyond: bool) -> str:
    """Give the number that stands at a mark when the axis is broken: the error, or the spread that broke it."""
    if error_is_beyond or data.U_mm is None:
        return error_text(data, data.error_mm)
    spread = plain(data.shown(data.U_mm), places=places(data))
    return with_unit(f"{signed(data.shown(data.error_mm), places=places(data))} ± {spread}", data.unit)


def title(data: CorridorData) -> str:
    """Say the result in one line."""
    if not data.is_read:
        return f"{data.label}: not read yet"
    parts = [f"{data.label}: error {error_text(data, data.error_mm)}"]
    if data.U_mm is not None:
        spread = with_unit(plain(data.shown(data.U_mm), places=places(data)), data.unit)
        parts.append(f"{data.U_name} {spread}")
    parts.append(verdict_word(data.verdict))
    return ", ".join(parts)


def description(data: CorridorData) -> str:
    """Say the limits, what is accepted, the margin, and what was found before."""
    sentences = [
        _range(data, "Limits", data.lower_mm, data.upper_mm),
        _range(data, "Accepted", data.acceptance_lower_mm, data.acceptance_upper_mm),
        margin_sentence(data) if data.is_read else "",
    ]
    if data.as_found:
        earlier = error_text(data, data.as_found.error_mm)
        sentences.append(f"As found {earlier}, {verdict_word(data.as_found.verdict)}.")
    return " ".join(sentence for sentence in sentences if sentence)


def margin_sentence(data: CorridorData) -> str:
    """Say how far inside or outside the nearer limit the error lies."""
    margin = data.margin_mm
    if margin is None:
        return "There is no limit."
    if margin == 0:
        return "Exactly on the limit."
    distance = with_unit(plain(abs(data.shown(margin)), places=places(data)), data.unit)
    return f"{'Inside' if margin > 0 else 'Outside'} the nearer limit by {distance}."


def _range(data: CorridorData, what: str, lower: Decimal | None, upper: Decimal | None) -> str:
    if lower is not None and upper is not None:
        return f"{what} {limit_text(data, lower)} to {with_unit(limit_text(data, upper), data.unit)}."
    if upper is not None:
        return f"{what} up to {with_unit(limit_text(data, upper), data.unit)}."
    if lower is not None:
        return f"{what} from {with_unit(limit_text(data, lower), data.unit)}."
    return ""
