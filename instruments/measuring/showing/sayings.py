"""What the bench says in words: why a value is set aside, what is out, what to do with the zero, what comes next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from instruments.measuring.envelope import Content, EnvelopeUnreadable
from instruments.measuring.models import SetAside
from instruments.measuring.queries import Bench, BenchPoint
from instruments.measuring.showing import steps, words
from instruments.measuring.zeros import set_to_mm
from labsys.metrology.verdicts import Verdict

QUESTIONED = "reading-questioned"

ZERO_HEADINGS = {
    "as-found": "Zero as found",
    "set": "Zero, set once",
    "closing": "Closing zero",
}
FOUND = {
    "faces": "Wipe both outside faces, close them, and read.",
    "low-end": "Wipe the faces, close them or put the setting standard of the low end between them, and read.",
    "reference": "Put the comparator on its reference, and read.",
    "plate": "Wipe blade, base and plate, lay blade and base flat on the plate without a gap, and read.",
}
SET = {
    "faces": "Close the outside faces and set the zero. It is not touched again until every function is measured.",
    "low-end": "Close the faces, or measure the setting standard, and set the gauge to it. It is not touched again "
    "until everything is measured.",
    "reference": "Set the comparator to zero on its reference. It is not touched again until everything is measured.",
    "plate": "Blade and base on the plate: set the zero. It is not touched again until everything is measured.",
}
SET_AGAIN = {
    "faces": "Wipe the faces, close them and set the zero again. The void points are then repeated.",
    "low-end": "Wipe the faces and the setting standard and set the gauge again. The void points are then repeated.",
    "reference": "Set the comparator to zero on its reference again. The void points are then repeated.",
    "plate": "Wipe blade, base and plate and set the zero on it again. The void points are then repeated.",
}
AT_THE_END = {
    "faces": "Wipe the faces, close them and read.",
    "low-end": "Wipe the faces, close them or measure the setting standard again, and read.",
    "reference": "Put the comparator back on its reference, and read.",
    "plate": "Lay blade and base on the plate again, and read.",
}
ZERO_LABELS = {
    "faces": "Closed faces, in {unit}",
    "low-end": "At the low end of the range, in {unit}",
    "reference": "On the reference, in {unit}",
    "plate": "Blade and base on the plate, in {unit}",
}
ZERO_NOTES = {
    "as-found": "Noted, not judged: the zero is set next.",
    "set": "Type what it shows after setting.",
    "closing": "",
}
OUT = "Out of tolerance."
REPEAT = (
    "Wipe faces and reference, seat them anew and read once more. Both readings stay; nothing is averaged."
)
FIXED_NOTE = "The zero of this gauge can't be set, so what it reads closed is an error like any other."


@dataclass(frozen=True)
class Saying:
    """A word and a sentence beside the field.

    ``level``: plain, question, refused or out. ``is_question``: one tap says that the gauge shows it. ``value`` is what
    was typed, kept in the field.
    """

    level: str
    sentence: str
    word: str = ""
    value: str = ""
    is_question: bool = False
    set_aside: SetAside | None = None


def about(mine: tuple[SetAside, ...]) -> Saying | None:
    """Say why the newest value set aside at a target does not count yet."""
    if not mine:
        return None
    row = mine[-1]
    asked = row.code == QUESTIONED
    return Saying(
        level="question" if asked else "refused",
        sentence=row.sentence,
        word="Is it so?" if asked else "Not taken.",
        value=typed(row),
        is_question=asked,
        set_aside=row,
    )


def at_point(found: BenchPoint, bench: Bench) -> Saying | None:
    """Say what the readings of a point ask for: the repeat of one that is out, the next of several."""
    evaluated = found.evaluated
    if evaluated is None:
        return None
    out, missing = steps.out_readings(found), steps.lacking(found, bench)
    if evaluated.is_rejected:
        return Saying(
            "out",
            "They spread beyond what is allowed, so the gauge is rejected.",
            "The readings don't agree.",
        )
    if out and missing:
        return Saying("out", REPEAT, OUT)
    if out > 1:
        return Saying("out", "The repeat says the same. Go on to the next point.", OUT)
    if out:
        return Saying(
            "out",
            "The repeat is in; the reading with the least margin is judged. Go on.",
            "One reading is out.",
        )
    if missing:
        return Saying("plain", f"{missing} more reading{'s' if missing > 1 else ''} at this point.")
    if evaluated.verdict is Verdict.NOT_ACCEPTED:
        return Saying("plain", "Within the limits, but inside the guard: the agreed rule does not accept it.")
    return None


def zero(kind: str, bench: Bench, *, is_fixed: bool) -> tuple[str, ...]:
    """Say what to do for a zero: by the procedure's own words where it has some."""
    policy = bench.ground.content.zero
    own = (policy.text,) if policy.text else ()
    if kind == "as-found":
        as_fixed = FIXED_NOTE.replace(" closed", "") if policy.how == "plate" else FIXED_NOTE
        last = as_fixed if is_fixed else "Do not set it yet."
        return FOUND[policy.how], *own, last
    if kind == "set":
        if "zero-set-again" in steps.codes(bench):
            return (SET_AGAIN[policy.how],)
        return SET[policy.how], *own
    reach = "one step" if policy.allowed_steps == 1 else f"{policy.allowed_steps} steps"
    return (f"{AT_THE_END[policy.how]} It holds within {reach} of {_expected(bench, is_fixed=is_fixed)}.",)


def _expected(bench: Bench, *, is_fixed: bool) -> str:
    if is_fixed:
        return "what it read as found"
    expected = set_to_mm(bench.ground.model, bench.ground.content)
    return words.length(expected, bench.ground.model.unit) if expected else "zero"


def after_zero(step: steps.Step, bench: Bench) -> Saying | None:
    """Say what a closing zero that moved has done."""
    if step is not steps.Step.ZERO_SET or "zero-set-again" not in steps.codes(bench):
        return None
    count = len(bench.void_points)
    return Saying(
        "out",
        f"It moved by more than it may. {count} point{'s' if count != 1 else ''} read since it last held "
        f"{'are' if count != 1 else 'is'} void; they are kept, and to be repeated.",
        "The zero did not hold.",
    )


def typed(row: SetAside) -> str:
    """Give what was typed in an arrival that was set aside; empty where it was no value."""
    return str(fields_of(row).get("raw", ""))


def speaks_of(row: SetAside, fields: dict[str, Any]) -> bool:
    """Say whether an arrival's text names these fields."""
    found = fields_of(row)
    return all(found.get(name) == value for name, value in fields.items())


def fields_of(row: SetAside) -> dict[str, Any]:
    """Give the named fields of an arrival that was set aside; none where its text can't be read."""
    try:
        return Content(row.arrival.text).fields
    except EnvelopeUnreadable:
        return {}
