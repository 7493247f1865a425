"""``due_date``: when a calibration is due by a convention, capped, and whether an extension may be given.

Fields: ``calibrated_on``: the day the calibration ended, as in 2026-03-15.
Fields: ``interval_months``: the interval, whole months.
Fields: ``convention``: “from_calibration” (default), “from_first_use”, “end_of_month”, “kept_anniversary”,
    “by_number_of_uses” or “by_event”.
Fields: ``first_used_on`` (left out: not used yet), ``shelf_months`` (0): from_first_use.
Fields: ``old_due_on``: kept_anniversary.
Fields: ``uses``, ``most_uses``, ``today``: by_number_of_uses.
Fields: ``happened_on``: by_event.
Fields: ``extension``: an object, may be left out: ``until_on``, ``decided_on``, and true or false (false)
    ``was_extended``, ``is_reference_standard``, ``was_out_of_tolerance``, ``is_check_failing``.
Answers: ``by_convention_on``, ``latest_on`` (interval plus a tenth of it, at most 30 days), ``due_on`` (the earlier of
    both), ``is_capped``; of an extension ``extension.latest_on``, ``extension.is_refused``, ``extension.reasons``.
"""

from __future__ import annotations

from datetime import date

from labsys.metrology.intervals import due
from labsys.metrology.intervals.due import Convention, DueDate, ExtensionAsked, judge_extension
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields, refuse


def answer(fields: Fields) -> Answer:
    """Answer with the due date; raises QuestionUnreadable, DatesCrossed, CountOutOfRange, DateOutOfRange."""
    found = _due(fields)
    values: dict[str, object] = {
        "by_convention_on": found.by_convention_on.isoformat(),
        "latest_on": found.latest_on.isoformat(),
        "due_on": found.due_on.isoformat(),
        "is_capped": found.is_capped,
    }
    if fields.has("extension"):
        judged = judge_extension(found, _asked(fields.object("extension")))
        values["extension"] = {
            "latest_on": judged.latest_on.isoformat(),
            "is_refused": judged.is_refused,
            "reasons": judged.reasons,
        }
    fields.finish()
    steps = (
        Step(f"by convention “{found.convention}”", values["by_convention_on"]),
        Step("not later than interval plus min(a tenth of it, 30 days)", values["due_on"]),
    )
    return Answer(values, steps, due.SOURCES)


def _due(fields: Fields) -> DueDate:
    calibrated_on, months = _day(fields, "calibrated_on"), fields.count("interval_months", at_least=1)
    match fields.one_of("convention", Convention, Convention.CALIBRATION):
        case Convention.CALIBRATION:
            return due.from_calibration(calibrated_on, months)
        case Convention.FIRST_USE:
            used_on = _day(fields, "first_used_on") if fields.has("first_used_on") else None
            shelf = fields.count("shelf_months", 0)
            return due.from_first_use(calibrated_on, months, first_used_on=used_on, shelf_months=shelf)
        case Convention.MONTH_END:
            return due.at_month_end(calibrated_on, months)
        case Convention.ANNIVERSARY:
            return due.on_anniversary(calibrated_on, months, old_due_on=_day(fields, "old_due_on"))
        case Convention.USES:
            uses, most = fields.count("uses"), fields.count("most_uses", at_least=1)
            today = _day(fields, "today")
            return due.by_uses(calibrated_on, months, uses=uses, most_uses=most, today=today)
        case Convention.EVENT:
            return due.by_event(calibrated_on, months, happened_on=_day(fields, "happened_on"))


def _asked(fields: Fields) -> ExtensionAsked:
    asked = ExtensionAsked(
        until_on=_day(fields, "until_on"),
        decided_on=_day(fields, "decided_on"),
        was_extended=fields.flag("was_extended", False),
        is_reference_standard=fields.flag("is_reference_standard", False),
        was_out_of_tolerance=fields.flag("was_out_of_tolerance", False),
        is_check_failing=fields.flag("is_check_failing", False),
    )
    fields.finish()
    return asked


def _day(fields: Fields, name: str) -> date:
    found = fields.text(name)
    try:
        return date.fromisoformat(found)
    except ValueError:
        raise refuse(fields.at(name), "a day such as 2026-03-15", found) from None
