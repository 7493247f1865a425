"""What a gauge's cable sent, looked at: whether it arrives as a number, and what to set where it doesn't.

A cable types like a keyboard: it names places of keys, and the device's keyboard layout says which signs these are. So
a cable that types as an English keyboard writes other signs on a device with another layout. Lives here: telling signs
apart; nothing is stored.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

SLOWEST_STROKE_MS = 40
"""Slower than this from stroke to stroke it was typed by a hand (common practice, no source)."""

# What the minus key of an English (US) keyboard writes under other layouts (common practice, no source).
_MINUS_AS = {
    "ß": "German",
    ")": "French",
    "'": "Spanish, Italian or Swiss",
    "=": "Czech",
    "ü": "Hungarian",
}
# A French keyboard writes digits only with Shift; without it the same keys write these.
_FRENCH_DIGITS, _ONLY_FRENCH = frozenset("&é\"'(-è_çà"), frozenset("&é(è_çà")
_OTHER_MINUS = frozenset("\u2010\u2011\u2012\u2013\u2014\u2212")
_NUMBER = re.compile(r"[+\-\u2212]?\s*\d+(?:[.,]\d+)?")
_UNIT = re.compile(r"\s*(mm|in|inch|\"|\u2033|\u00b0|\u00b0\s*\d+\s*['\u2032]?)\s*", re.IGNORECASE)


@dataclass(frozen=True)
class Finding:
    """One thing that was seen. ``level``: good, note (nothing to do), set (something has to be set)."""

    level: str
    word: str
    sentence: str


@dataclass(frozen=True)
class Sent:
    """What came into the field: the text, how it ended (enter, tab, nothing, unseen), ms from stroke to stroke."""

    text: str
    ended: str
    stroke_ms: float | None = None


def findings(sent: Sent) -> tuple[Finding, ...]:
    """Say what is right with what a cable sent and what has to be set; all of them good or notes: it works."""
    text = sent.text.strip()
    if not text:
        return (
            Finding("set", "Nothing came.", "Look whether the cable sits in the gauge and the device, and whether the "
                    "gauge sends when its button is pressed."),
        )  # fmt: skip
    found = (*_signs(text), *_end(sent), *_speed(sent))
    if any(one.level == "set" for one in found):
        return found
    return (Finding("good", "It works.", f"“{text}” came and is read as a number."), *found)


def works(sent: Sent) -> bool:
    """Say whether nothing has to be set."""
    return all(one.level != "set" for one in findings(sent))


def _signs(text: str) -> Iterator[Finding]:
    layout = _layout(text)
    if layout:
        what = "French" if layout == "digits" else layout
        meant = "digits were meant" if layout == "digits" else "a minus was meant"
        yield Finding(
            "set",
            "Another keyboard layout.",
            f"“{text}” came where {meant}: this device takes the cable for a {what} keyboard, and the cable types as "
            "an English one. Set the layout for outside keyboards on this device to English (US), or the cable to the "
            "device's layout.",
        )
        return
    rest = text
    if any(sign in _OTHER_MINUS for sign in text):
        yield Finding(
            "note", "Another minus.", "The long sign of the minus came. It is read; nothing to set."
        )
        rest = "".join("-" if sign in _OTHER_MINUS else sign for sign in text)
    number = _NUMBER.search(rest)
    if number is None:
        yield Finding(
            "set",
            "No number.",
            f"“{text}” came, and there is no number in it. Look at what the cable is set to send: the value alone.",
        )
        return
    yield from _around(rest, number)


def _layout(text: str) -> str:
    """Name the layout by the signs that stand where others were meant; empty where none does."""
    signs = set(text) - set(" .,;:")
    if signs & _ONLY_FRENCH and signs <= _FRENCH_DIGITS | {")"}:
        return "digits"
    first = text[0].lower()
    return _MINUS_AS.get(first, "") if any(sign.isdigit() for sign in text) else ""


def _around(text: str, number: re.Match[str]) -> Iterator[Finding]:
    """Look at the point, the sign, and what stands before and behind the number."""
    before, behind = text[: number.start()].strip(), text[number.end() :].strip()
    if "," in number[0]:
        yield Finding("note", "A comma.", "A comma came for the point. It is read as one; nothing to set.")
    if number[0].startswith("+"):
        yield Finding(
            "note",
            "A plus.",
            "A plus came. Where the gauge shows a minus, this device has a Scandinavian layout: set the layout for "
            "outside keyboards to English (US).",
        )
    if before:
        yield Finding(
            "set",
            "Something before the number.",
            f"“{before}” came before it. Switch the heading off at the cable: only the value is sent.",
        )
    if behind and _UNIT.fullmatch(behind):
        yield Finding("note", "The unit.", f"“{behind}” came behind the number. It is read; nothing to set.")
    elif behind:
        yield Finding(
            "set",
            "Something behind the number.",
            f"“{behind}” came behind it. Switch the ending off at the cable; only a unit may stand there.",
        )


def _end(sent: Sent) -> Iterator[Finding]:
    if sent.ended == "nothing":
        yield Finding(
            "set",
            "No Enter.",
            "No Enter came behind it, so a reading would wait in the field. Set the cable to end with Enter (carriage "
            "return); until then press Store after each.",
        )
    elif sent.ended == "tab":
        yield Finding("note", "Tab.", "It ends with Tab. That stores like Enter; nothing to set.")


def _speed(sent: Sent) -> Iterator[Finding]:
    if sent.stroke_ms is not None and sent.stroke_ms > SLOWEST_STROKE_MS:
        yield Finding(
            "note",
            "By hand?",
            f"From sign to sign it took {sent.stroke_ms:.0f} ms, as fingers do. Send with the button of the cable or "
            "of the gauge; a slow cable's readings are kept as typed.",
        )
