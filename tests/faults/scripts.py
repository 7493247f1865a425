"""What happens in one run of faults, drawn from a seed alone: who types what, and what goes wrong between and during.

Knows nothing of browsers and of the program; the same seed is the same script on every machine.
"""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

GAUGES = ("C-0036", "C-0037", "M-0002")
LONG = ("M-0002",)
"""Gauges with so many points that two tablets don't come to the end of them."""
ENDING = ("C-0036", "C-0037")
"""Gauges that are read to the end, closed and handed in."""

DURING = {
    "cut": 3,  # the network goes as Enter is pressed
    "lost": 4,  # the laboratory has stored it, and its answer never arrives
    "twice": 3,  # the same message arrives twice at once
    "slow": 3,  # the answer takes its time
    "gateway": 2,  # somebody on the way answers that nobody is there
    "portal": 2,  # somebody on the way answers with a page of his own
    "kill": 2,  # the laboratory's process is killed with the message in its hands
    "expire": 2,  # the sign-in is over
    "reload": 3,  # the page is loaded again as Enter is pressed; in a cut the tablet opens it by itself
    "close": 2,  # the page is closed as soon as the tablet has it, and opened again, in a cut by the tablet itself
    "swallow": 1,  # the network takes the message and never answers
}
BETWEEN = {"cut": 4, "mend": 5, "reload": 3, "reopen": 2, "kill": 1, "expire": 1}
FAULT_SHARE, BETWEEN_SHARE, QUICK_SHARE, OUT_SHARE, PATIENT_SHARE = 0.5, 0.35, 0.25, 0.1, 0.1
RELOAD_IN_CUT_SHARE = 0.4
_UNHURRIED = ("reload", "close", "swallow")
OUT_STEPS = 5


@dataclass(frozen=True)
class Act:
    """One thing that one tablet's person does or suffers.

    ``do`` is "read" or a fault between readings; ``fault`` is what goes wrong during a reading; ``steps`` of the
    display is how far the value lies from its point; ``quick`` says that the next value is typed without waiting.
    """

    tablet: int
    do: str
    fault: str = ""
    steps: int = 0
    quick: bool = False

    def __str__(self) -> str:
        words = [
            f"tablet {self.tablet} {self.do}s" if self.do == "read" else f"tablet {self.tablet}: {self.do}"
        ]
        words += [f"{self.steps:+d} steps"] if self.steps else []
        words += [f"with {self.fault}"] if self.fault else []
        return ", ".join([*words, *(["and doesn't wait"] if self.quick else [])])


@dataclass(frozen=True)
class Script:
    """A run: the gauge before each tablet, the points left to read where it is handed in, and the acts in turn."""

    seed: int
    gauges: tuple[str, ...]
    leave: int | None
    acts: tuple[Act, ...]
    patient: bool

    @property
    def is_shared(self) -> bool:
        """Say whether two tablets are at one session."""
        return len(self.gauges) > len(set(self.gauges))

    def __str__(self) -> str:
        end = "handed in" if self.leave else "voided"
        lines = [
            f"seed {self.seed}: {', '.join(self.gauges)}, {end}{', waits for the timer' if self.patient else ''}"
        ]
        return "\n  ".join([*lines, *map(str, self.acts)])


def draw(seed: int) -> Script:
    """Draw the script of a seed."""
    rng = Random(seed)
    gauges: tuple[str, ...]
    leave: int | None
    kind = rng.choices(("one", "end", "shared", "two"), (5, 2, 2, 2))[0]
    if kind == "end":
        gauges, leave = (rng.choice(ENDING),), rng.randint(2, 3)
    elif kind == "one":
        gauges, leave = (rng.choice(GAUGES),), None
    elif kind == "shared":
        gauges, leave = (rng.choice(LONG),) * 2, None
    else:
        gauges, leave = tuple(rng.sample(GAUGES, 2)), None
    acts = [act for tablet in range(len(gauges)) for act in _acts(rng, tablet, kind, leave)]
    mixed, patient = _interleaved(rng, acts), rng.random() < PATIENT_SHARE
    return Script(seed, gauges, leave, _reloaded(rng, mixed), patient)


def _acts(rng: Random, tablet: int, kind: str, leave: int | None) -> list[Act]:
    acts: list[Act] = []
    count = rng.randint(2, 5) if leave is None else leave + 1  # the closing zero too
    for place in range(count):
        is_last = place == count - 1
        if rng.random() < BETWEEN_SHARE:
            acts.append(Act(tablet, _weighted(rng, BETWEEN)))
        fault = _weighted(rng, DURING) if rng.random() < FAULT_SHARE else ""
        hurried = fault not in _UNHURRIED and kind != "shared" and leave is None and not is_last
        quick = hurried and rng.random() < QUICK_SHARE
        is_out = leave is None and kind != "shared" and not quick and rng.random() < OUT_SHARE
        steps = OUT_STEPS * rng.choice((-1, 1)) if is_out else rng.randint(-1, 1) if leave is None else 0
        acts.append(Act(tablet, "read", fault, steps, quick))
    return acts


def _reloaded(rng: Random, acts: tuple[Act, ...]) -> tuple[Act, ...]:
    """Load the page again after some of the cuts; drawn last, so that a seed's other acts are what they were."""
    found: list[Act] = []
    for act in acts:
        found.append(act)
        if "cut" in (act.do, act.fault) and not act.quick and rng.random() < RELOAD_IN_CUT_SHARE:
            found.append(Act(act.tablet, "reload"))
    return tuple(found)


def _weighted(rng: Random, weights: dict[str, int]) -> str:
    return rng.choices(list(weights), list(weights.values()))[0]


def _interleaved(rng: Random, acts: list[Act]) -> tuple[Act, ...]:
    """Mix the tablets' acts, each tablet's in its order, nothing between a hurried reading and the next."""
    rows = {act.tablet: [one for one in acts if one.tablet == act.tablet] for act in acts}
    mixed: list[Act] = []
    while rows:
        tablet = rng.choice(list(rows))
        while True:
            act = rows[tablet].pop(0)
            mixed.append(act)
            if not act.quick:
                break
        if not rows[tablet]:
            del rows[tablet]
    return tuple(mixed)
