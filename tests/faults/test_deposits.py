"""Every entered reading is stored exactly once: runs drawn from a seed, on one tablet or two, with what goes wrong.

Each run types values at the demo's gauges in Chromium against a stack, as tests/faults/scripts.py draws it: the network
cut, pages loaded again and closed, the laboratory's process killed, sign-ins ended, messages sent twice, answers lost,
late or somebody else's. In a cut the tablet opens its pages by itself. At the end everything is let through, and every
value must be stored once, at its own point, counted without a hole in the order of typing; the tablet lets go of it
only with the laboratory's receipt.

Two runs belong to the ordinary suite; a change of the bench wants two hundred, on a machine that does nothing else.
LABSYS_FAULT_RUNS=200 runs as many, LABSYS_FAULT_SEED=1234 begins at that seed
(with LABSYS_FAULT_RUNS=1 that is the way to repeat one):

    LABSYS_FAULT_RUNS=200 pytest tests/faults/test_deposits.py -s
"""

from __future__ import annotations

import json
import os
import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.faults.clerk import Clerk
from tests.faults.scripts import BETWEEN, DURING, Script, draw
from tests.faults.tablets import Laboratory, Tablet
from tests.stack import Stack, children, command_line, until

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = [pytest.mark.browser, pytest.mark.faults]

RUNS = int(os.environ.get("LABSYS_FAULT_RUNS", "2"))
FIRST_SEED = int(os.environ.get("LABSYS_FAULT_SEED", "2026"))
ARRIVES_WITHIN_S = 30.0
MOST_S = 240.0
"""A run that stands still for so long has lost its browser."""


@pytest.fixture(scope="module")
def laboratory(prepared_stack: Stack) -> Iterator[Laboratory]:
    """Run a stack of its own: its server is killed, its people are signed out."""
    stack = prepared_stack.copy(prepared_stack.folder.parent / "deposits")
    stack.start()
    try:
        with Clerk.of(stack) as clerk:
            yield Laboratory(stack, clerk)
    finally:
        stack.remove()


@pytest.fixture(scope="module")
def browser(chromium_path: str) -> Iterator[Browser]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as running:
        found = running.chromium.launch(executable_path=chromium_path, args=["--no-sandbox"])
        yield found
        found.close()


@pytest.fixture(scope="module")
def signed_in(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give where the sign-in of the last run lies, so that not every run signs in anew."""
    path = tmp_path_factory.mktemp("signed-in") / "state.json"
    path.write_text(json.dumps({"cookies": [], "origins": []}))
    return path


def tablets(script: Script, laboratory: Laboratory, browser: Browser, signed_in: Path) -> list[Tablet]:
    """Open the sessions of a run and put a fresh tablet before each gauge."""
    opened: dict[str, Any] = {
        tag: laboratory.clerk.ask("open", tag=tag, leave=script.leave) for tag in sorted(set(script.gauges))
    }
    found = []
    for tag in script.gauges:
        context = browser.new_context(viewport={"width": 820, "height": 1180}, storage_state=str(signed_in))
        points = {int(pk): length for pk, length in opened[tag]["points"].items()}
        tablet = Tablet(context, laboratory, opened[tag]["session"], points, Decimal(opened[tag]["step"]))
        tablet.begin()
        found.append(tablet)
    return found


def let_through(tablet: Tablet, *, patient: bool) -> None:
    """Give everything back and wait until nothing waits on the tablet; the impatient open another page of the bench."""
    tablet.mend()
    tablet.laboratory.wait()
    tablet.acknowledge()
    if not patient and tablet.waits():
        tablet.go("/bench/")
    assert until(lambda: _is_through(tablet), within_s=ARRIVES_WITHIN_S), tablet.kept()["entries"]


def _is_through(tablet: Tablet) -> bool:
    _look_in(tablet)
    return tablet.waits() == 0


def end(script: Script, seated: list[Tablet]) -> None:
    """Hand in on the page, or void; then every tablet must be given its receipts and hold nothing."""
    if script.leave:
        tablet = seated[0]
        tablet.go(f"/bench/session/{tablet.session}/hand-in/")
        tablet.page.click("text=Hand in for review")
        tablet.page.wait_for_url("**/sessions/*/")
    for tablet in seated:
        state = tablet.laboratory.clerk.ask("close", session=tablet.session)
        assert state == ("submitted" if script.leave else "void"), f"the session is {state}"
        tablet.go("/bench/")
        assert until(lambda one=tablet: _is_empty(one), within_s=10), tablet.kept()["entries"]  # type: ignore[misc]


def _is_empty(tablet: Tablet) -> bool:
    _look_in(tablet)
    return not tablet.kept()["entries"]


def _look_in(tablet: Tablet) -> None:
    """Let the page work, and sign in where it asks who is there."""
    tablet.page.wait_for_timeout(20)
    if "/account/login" in tablet.look()["path"]:
        tablet.sign_in()


def check(seated: list[Tablet]) -> int:
    """Hold what is stored against what was typed; gives how many values that were."""
    names = {tablet.kept()["device"]: tablet for tablet in seated}
    assert "" not in names and len(names) == len(seated)
    for device, tablet in names.items():
        stored = tablet.laboratory.clerk.ask("stored", session=tablet.session)
        rows = [(n, point, raw) for one, n, point, raw in stored["rows"] if one == device]
        wanted = [(n, one.point, one.raw) for n, one in enumerate(tablet.typed, start=1)]
        assert rows == wanted, (
            f"stored {rows}\n typed {wanted}\nbesides {stored['aside']} {stored['by_hand']}"
        )
        assert stored["aside"] == stored["by_hand"] == [] and stored["unsettled"] == 0
        assert stored["kept"] == len(stored["rows"]) and {row[0] for row in stored["rows"]} <= set(names)
    return sum(len(tablet.typed) for tablet in seated)


@contextmanager
def impatience() -> Iterator[None]:
    """End the browsers after MOST_S: what is asked of a page has no time limit of its own, and the run would stand."""

    def end() -> None:
        for driver in children(os.getpid()):
            for browser in children(driver):
                if "chrom" in command_line(browser):
                    os.kill(browser, signal.SIGKILL)

    timer = threading.Timer(MOST_S, end)
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


def play(script: Script, laboratory: Laboratory, browser: Browser, signed_in: Path) -> tuple[int, int]:
    """Play one run from the first page to the receipts; counts the values, and pages opened in a cut."""
    laboratory.wait()
    seated = tablets(script, laboratory, browser, signed_in)
    try:
        for act in script.acts:
            seated[act.tablet].do(act)
        for tablet in seated:
            let_through(tablet, patient=script.patient)
        if script.leave:
            seated[0].go(f"/bench/session/{seated[0].session}/")
            seated[0].finish()
        count = check(seated)
        end(script, seated)
        seated[0].context.storage_state(path=str(signed_in))
    except BaseException:
        print(*(f"\nsession {one.session}: {said}" for one in seated for said in one.heard))  # noqa: T201
        raise
    finally:
        for tablet in seated:
            tablet.context.close()
    return count, sum(tablet.reopened for tablet in seated)


@pytest.mark.parametrize("seed", range(FIRST_SEED, FIRST_SEED + RUNS))
def test_every_value_is_stored_once(
    seed: int, laboratory: Laboratory, browser: Browser, signed_in: Path
) -> None:
    script, start = draw(seed), time.monotonic()
    try:
        with impatience():
            count, reopened = play(script, laboratory, browser, signed_in)
    except BaseException as fault:
        print(f"\nLABSYS_FAULT_SEED={seed} LABSYS_FAULT_RUNS=1 repeats this:\n{script}\n{fault}")  # noqa: T201
        raise
    opened = f", {reopened} opened in a cut" if reopened else ""
    print(f"seed {seed}: {count} values{opened}, {time.monotonic() - start:.1f} s")  # noqa: T201
    assert count


def test_the_scripts_hold_every_fault() -> None:
    scripts = [draw(seed) for seed in range(FIRST_SEED, FIRST_SEED + 200)]
    acts = [act for script in scripts for act in script.acts]
    assert {act.fault for act in acts} - {""} == set(DURING)
    assert {act.do for act in acts} - {"read"} == set(BETWEEN)
    assert any(act.quick for act in acts) and any(script.is_shared for script in scripts)
    assert {len(script.gauges) for script in scripts} == {1, 2}
    assert sum(map(opened_in_a_cut, scripts)) > 10
    assert draw(7) == draw(7)


def opened_in_a_cut(script: Script) -> int:
    """Count the pages that are loaded or opened again while their tablet has no network."""
    cut: set[int] = set()
    count = 0
    for act in script.acts:
        count += act.tablet in cut and bool({act.do, act.fault} & {"reload", "reopen", "close"})
        if "cut" in (act.do, act.fault):
            cut.add(act.tablet)
        elif act.do == "mend":
            cut.discard(act.tablet)
    return count
