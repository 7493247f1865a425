"""Why a result differs: a sentence of what the draft changes in it, the largest effect named.

Lives here: one result, then and now. May not live here: which belong together (comparing.py).
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from instruments.measuring.dry_run.record import Figures
from instruments.measuring.evaluation import Evaluated
from instruments.measuring.models import Result
from labsys.metrology.budget import Budget
from labsys.metrology.exact import plain
from labsys.metrology.limits import Limits
from labsys.metrology.units import Quantity, Unit
from labsys.metrology.verdicts import Verdict
from labsys.metrology.views import VIEW_WORDS, View, Views
from labsys.pages import figures


def why(result: Result, now: Evaluated, then_is: Figures, now_is: Figures, quantity: Quantity) -> str:
    """Say what the draft changes in a result, and why; empty where nothing differs."""
    return " ".join(
        (
            *_verdict(then_is, now_is),
            *_error(result, now, quantity.base),
            *_limits(result, now, quantity.base),
            *_view(result, now),
            *_uncertainties(result, now, (then_is, now_is), quantity.fine),
            *_accepted(result, now, quantity.base),
            *_spread(now, (then_is, now_is), quantity.base),
        )
    )


def _verdict(then_is: Figures, now_is: Figures) -> Iterator[str]:
    if then_is.verdict == now_is.verdict:
        return
    then, now = (Verdict(one.verdict).words if one.verdict else "no verdict" for one in (then_is, now_is))
    yield f"{now.capitalize()} instead of {then}."


def _error(result: Result, now: Evaluated, unit: Unit) -> Iterator[str]:
    if result.value_mm == now.error_mm:
        return
    held = Decimal(_decision(result).get("held_mm", _decision(result)["length_mm"]))
    if held != now.held_mm:
        yield f"Held against {plain(now.held_mm):f} {unit} instead of {plain(held):f} {unit}."
    elif now.reading is not None and now.reading.pk != result.reading_id:
        yield "Another of its readings is judged, the one with the least margin to the limits."
    else:
        yield "The error is worked out otherwise."


def _limits(result: Result, now: Evaluated, unit: Unit) -> Iterator[str]:
    if (result.lower_mm, result.upper_mm) != (now.limits.lower, now.limits.upper):
        before = between(Limits(result.lower_mm, result.upper_mm), unit)
        after = between(now.limits, unit)
        yield f"Judged by the limits {after} ({now.function}) instead of {before} ({result.function})."


def _view(result: Result, now: Evaluated) -> Iterator[str]:
    before = _decision(result).get("view")
    if now.decision is not None and before is not None and before != now.decision.view:
        yield f"Decided by the {VIEW_WORDS[now.decision.view]} instead of the {VIEW_WORDS[View(before)]}."


def _uncertainties(
    result: Result, now: Evaluated, sides_are: tuple[Figures, Figures], fine: Unit
) -> Iterator[str]:
    if now.views is None or not result.budget:
        return
    before = Views.from_json(json.loads(result.budget))
    view = View.CALIBRATION if now.decision is None else now.decision.view
    # The U that decides comes first; the certificate's is named besides where it is another one.
    for one in dict.fromkeys((view, View.CALIBRATION)):
        sides = [(f.U_mm if one is View.CALIBRATION else f.U_test_mm) for f in sides_are]
        if sides[0] != sides[1]:
            yield _uncertainty(VIEW_WORDS[one], before.of(one), now.views.of(one), fine)


def _uncertainty(name: str, then: Budget, now: Budget, fine: Unit) -> str:
    """Name the component whose share moved U most, or the factor k where none did."""
    grows = now.U_mm > then.U_mm
    was, is_now = _fine(then.U_mm, fine), _fine(now.U_mm, fine)
    said = f"The {name} is {'larger' if grows else 'smaller'} ({was} before, {is_now} now)"
    before, after = _variances(then), _variances(now)
    moved = {key: after.get(key, 0.0) - before.get(key, 0.0) for key in {**before, **after}}
    key = max(moved, key=lambda one: (moved[one] if grows else -moved[one], one), default="")
    if not key or (moved[key] > 0) is not grows or abs(moved[key]) < 1e-6 * max(now.u_mm, then.u_mm) ** 2:
        return f"{said}: k is {now.k:.2f} instead of {then.k:.2f}."
    return f"{said}, most by “{key}”: {_part(before, key, fine)} before, {_part(after, key, fine)} now."


def _variances(budget: Budget) -> dict[str, float]:
    found: dict[str, float] = defaultdict(float)
    for row in budget.rows:
        found[row.component.name] += row.contribution_mm**2
    return found


def _part(variances: dict[str, float], key: str, fine: Unit) -> str:
    return _fine(variances[key] ** 0.5, fine) if key in variances else "none"


def _fine(value_mm: float, fine: Unit) -> str:
    return figures.with_unit(f"{value_mm * float(1 / fine.factor_mm):.3g}", fine)


def _accepted(result: Result, now: Evaluated, unit: Unit) -> Iterator[str]:
    """Say what is accepted now where the verdict or the rule makes it another stretch."""
    stored = _decision(result)
    if now.decision is None or "view" not in stored:
        return
    bounds = [stored["acceptance_lower_mm"], stored["acceptance_upper_mm"]]
    before = Limits(*(None if one is None else Decimal(one) for one in bounds))
    zone = now.decision.acceptance
    if (before.lower, before.upper) != (zone.lower, zone.upper):
        yield f"Accepted is {between(zone, unit)} instead of {between(before, unit)}."


def _spread(now: Evaluated, sides_are: tuple[Figures, Figures], unit: Unit) -> Iterator[str]:
    then_is, now_is = sides_are
    if now.repeats is None or then_is.is_rejected == now_is.is_rejected:
        return
    spread = f"Its readings spread over {plain(now.repeats.spread_mm):f} {unit}"
    allowed = "" if now.repeats.allowed_mm is None else f" ({plain(now.repeats.allowed_mm):f} {unit})"
    if now_is.is_rejected:
        yield f"{spread}, more than the draft allows{allowed}: the gauge would be rejected."
    else:
        yield f"{spread}, which the draft allows{allowed}: the gauge would not be rejected for it."


def between(limits: Limits, unit: Unit) -> str:
    """Write a stretch with its signs, in the base unit: −0.02 to +0.02 mm, at most 0.005 mm."""
    lower, upper = (None if one is None else _four_digits(one) for one in (limits.lower, limits.upper))
    if lower is None and upper is None:
        return "none"
    if lower is None or upper is None:
        return f"at most {upper} {unit}" if lower is None else f"at least {lower} {unit}"
    return f"{lower} to {upper} {unit}"


def _four_digits(value: Decimal) -> str:
    """Write a limit as agreed, one that was worked out to four significant digits."""
    return figures.signed(Decimal(f"{Decimal(f'{value:.4g}'):f}"))


def _decision(result: Result) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(result.decision)
    return found
