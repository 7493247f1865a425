"""A tablet with somebody at it who types values, looks at the page, and types again only what the page still shows.

What a value was typed for is what the page showed at that moment; after a hurried one, what the page said comes next.
"""

from __future__ import annotations

import os
import re
import signal
import threading
import time
import urllib.request
from collections import deque
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING, Any
from urllib.error import URLError

from tests.faults.asked import EXPECT, KEPT, LOOK, REOPENS, WATCH
from tests.faults.clerk import Clerk
from tests.faults.scripts import Act
from tests.stack import Stack, children, until

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Request, Route

SENT = re.compile(r"/bench/(session/\d+/send|deposit)/$")
PATIENCE_S = 30.0
PAUSE_MS = 15
BOUNCE_S = 1.05
"""The same value again within a second is held back as a bounce of the key."""
SLOW_MS = 700
MOST_RESTARTS, RESTARTS_WITHIN_S = 3, 60.0
"""How often the web server itself is killed; the supervisor gives up a service that keeps ending."""


@dataclass
class Typed:
    """One value as it was entered: the point it was meant for (None: the closing zero)."""

    point: int | None
    raw: str
    entered_at: float = 0.0


@dataclass
class Laboratory:
    """The running program as the faults see it."""

    stack: Stack
    clerk: Clerk
    killed: list[float] = field(default_factory=list)

    def kill(self) -> None:
        """Kill the process that answers, now and then the server that starts it; another takes its place."""
        server = self.stack.child("gunicorn")
        working = children(server) if server else []
        self.killed = [at for at in self.killed if time.monotonic() - at < RESTARTS_WITHIN_S]
        if server and len(self.killed) < MOST_RESTARTS and len(working) % 2 == len(self.killed) % 2:
            self.killed.append(time.monotonic())
            os.kill(server, signal.SIGKILL)
        elif working:
            os.kill(working[0], signal.SIGKILL)

    def wait(self) -> None:
        """Wait until it answers."""
        assert until(self.stack.answers, within_s=PATIENCE_S), self.stack.logs()


@dataclass
class Tablet:
    """One browser with its own database, at one session."""

    context: BrowserContext
    laboratory: Laboratory
    session: int
    points: dict[int, str]
    step: Decimal
    typed: list[Typed] = field(default_factory=list)
    pending: list[Typed] = field(default_factory=list)
    is_cut: bool = False
    reopened: int = 0
    presses: int = 0
    page: Any = None
    heard: deque[str] = field(default_factory=lambda: deque(maxlen=60))
    """What the pages said to developers and sent, for whoever looks into a fault."""

    # What the person does

    def begin(self) -> None:
        """Open the session's page."""
        self.context.add_init_script(WATCH)
        self.context.on("console", lambda said: self.heard.append(f"said {said.text}"))
        self.context.on("request", self.listen)
        self.page = self.context.new_page()
        self.go(f"/bench/session/{self.session}/")
        self.quiet()
        self.settle()

    def listen(self, request: Request) -> None:
        """Note a message with readings."""
        if SENT.search(request.url):
            self.heard.append(f"sent {request.post_data}")

    def settle(self) -> None:
        """Wait until the tablet could open the page by itself: that is before anybody walks away with it."""
        end = time.monotonic() + PATIENCE_S
        while not self.reopens():
            assert time.monotonic() < end, "the tablet does not become able to open the bench by itself"
            self.quiet()
            self.page.wait_for_timeout(PAUSE_MS)

    def reopens(self) -> bool:
        """Say whether the tablet can open the session's page without the network."""
        from playwright.sync_api import Error

        try:
            return bool(self.page.evaluate(REOPENS, self.session))
        except Error:  # just being replaced, or the browser's own page
            return False

    def do(self, act: Act) -> None:
        """Play one act."""
        if act.do == "read":
            self.read(act)
        else:
            BETWEEN[act.do](self)
            self.acknowledge()

    def read(self, act: Act) -> None:
        """Take one reading, with what goes wrong during it."""
        prepare = DURING.get(act.fault)
        if prepare is not None:
            prepare(self)
        entry = self.take(act.steps)
        while entry is None:
            if not self.quiet()["ready"]:
                return  # nothing more is to be read
            entry = self.take(act.steps)
        self.typed.append(entry)
        self.pending.append(entry)
        if act.fault in AFTER:
            AFTER[act.fault](self)
        if not act.quick:
            self.acknowledge()

    def finish(self) -> None:
        """Read what is left, until the page leads to handing in."""
        while self.quiet()["ready"]:
            self.read(Act(0, "read"))

    def take(self, steps: int) -> Typed | None:
        """Read the gauge at the point that the page shows, or after a hurried value at the one that it says is next."""
        seen = self.look() if self.pending else self.quiet()
        raw = self.shown(seen, steps)
        is_shown = bool(seen["value"]) and not seen["on_its_way"]
        if self.pending and (raw in (None, self.pending[-1].raw) or is_shown or len(self.pending) > 1):
            self.acknowledge()  # what is not stored yet, or waits for the answer to another, isn't typed over
            seen = self.quiet()
            raw = self.shown(seen, steps)
        if raw is None:
            return None
        if self.typed and raw == self.typed[-1].raw:
            self.wait_out_a_bounce(self.typed[-1])
        entry = Typed(self.meant(seen), raw)
        if self.enter(entry, seen):
            return entry
        self.clear()
        return None

    def clear(self) -> None:
        """Take out of the field what was not entered, where there is still a field."""
        from playwright.sync_api import Error

        try:
            self.page.fill("#raw", "", timeout=500)
        except Error:
            return

    def meant(self, seen: dict[str, Any]) -> int | None:
        """Say which point the next value is for: while one is on its way, the one that the page says comes next."""
        found = seen["next"] if seen["on_its_way"] and seen["next"] else seen["point"]
        return None if found is None else int(found)

    def shown(self, seen: dict[str, Any], steps: int) -> str | None:
        """Give what the gauge shows at that point, so many steps of its display away from it; None: nothing to read."""
        point = self.meant(seen)
        if point is None:
            return "0" if seen["has_zero"] else None
        return f"{Decimal(self.points[point]) + steps * self.step:f}"

    def wait_out_a_bounce(self, last: Typed) -> None:
        """Wait until the same value is no bounce of the key any more."""
        while time.monotonic() - last.entered_at < BOUNCE_S:
            self.page.wait_for_timeout(PAUSE_MS)

    def enter(self, entry: Typed, seen: dict[str, Any]) -> bool:
        """Type a value into the field, over what stands there, and press Enter if the page is still the one seen.

        The page itself looks at the moment of the key: a person who sees it change doesn't press.
        """
        from playwright.sync_api import Error

        self.presses += 1
        seen_then = {"press": str(self.presses), "point": seen["point"], "on_its_way": seen["on_its_way"]}
        try:
            self.page.focus("#raw", timeout=2000)
            self.page.evaluate(EXPECT, seen_then)
            self.page.keyboard.press("Control+a")
            self.page.keyboard.type(entry.raw)
            if self.page.evaluate("() => document.getElementById('raw')?.value") != entry.raw:
                return False
        except Error:
            return False
        self.page.keyboard.press("Enter")
        entry.entered_at = time.monotonic()
        return bool(self.look()["pressed"] == seen_then["press"])

    def acknowledge(self) -> None:
        """Look until the page shows nothing unsent; what it still shows is entered again, where it belongs."""
        end = time.monotonic() + PATIENCE_S
        while self.pending:
            seen = self.quiet()
            entry = self.pending[-1]
            if not seen["ready"]:
                self.forget_what_came_too_late()
            elif not seen["value"]:
                self.pending.clear()
            elif not seen["on_its_way"] and time.monotonic() - entry.entered_at > BOUNCE_S:
                self.again(seen)
            assert time.monotonic() < end, f"the page neither takes nor refuses {entry}: {seen}"
            self.page.wait_for_timeout(PAUSE_MS)

    def forget_what_came_too_late(self) -> None:
        """Leave out what was typed ahead of an answer that ended the reading: it has no point, and that is said."""
        held = sum(one["session"] == self.session for one in self.kept()["entries"])
        late = self.typed[held:]
        assert all(one in self.pending[1:] for one in late), f"{late} not kept, and not typed ahead"
        if late:
            said = self.page.wait_for_selector("#reading-held:not([hidden])", timeout=5000)
            assert said is not None and late[-1].raw in said.inner_text()
        self.typed = self.typed[:held]
        self.pending.clear()

    def again(self, seen: dict[str, Any]) -> None:
        """Enter again what stands in the field, at its own point."""
        entry = next((one for one in self.pending if one.raw == seen["value"]), None)
        assert entry is not None, f"the field shows {seen['value']}, nobody typed that last: {self.pending}"
        if seen["point"] != entry.point:
            self.mend()  # without the network the page can't be asked for another point
            self.go(f"/bench/session/{self.session}/?point={entry.point}")
            seen = self.quiet()
            if seen["point"] != entry.point:
                return
        self.enter(entry, seen)

    def quiet(self) -> dict[str, Any]:
        """Look at the page once it stands still: signed in, its script up, nothing about to replace it."""
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            seen = self.look()
            if "/account/login" in seen["path"]:
                self.sign_in()
            elif seen["is_over"]:
                self.mend()  # the tablet has nothing more to be read: the laboratory's page will come
            elif seen["ready"] and not seen["on_its_way"] or seen["path"].endswith("/hand-in/"):
                return seen
            elif not seen["path"].startswith(
                f"/bench/session/{self.session}/"
            ):  # the browser's own page: not there
                self.mend()
                self.go(f"/bench/session/{self.session}/")
            self.page.wait_for_timeout(PAUSE_MS)
        raise AssertionError(f"the page of session {self.session} does not come to rest: {self.look()}")

    def look(self) -> dict[str, Any]:
        """Look at the page; again where it is just being replaced."""
        from playwright.sync_api import Error

        for _ in range(200):
            try:
                return dict(self.page.evaluate(LOOK))
            except Error:
                self.page.wait_for_timeout(PAUSE_MS)
        raise AssertionError("the page can't be looked at")

    def go(self, path: str) -> None:
        """Open a page of the program, as often as it takes."""
        from playwright.sync_api import Error

        end = time.monotonic() + PATIENCE_S
        while True:
            try:
                self.page.goto(f"{self.laboratory.stack.address}{path}", wait_until="commit")
            except Error:
                assert time.monotonic() < end
                self.page.wait_for_timeout(100)
            else:
                return

    def sign_in(self) -> None:
        """Sign in where the page asks who is there."""
        self.page.fill("input[name=login]", "technician")
        self.page.fill("input[name=password]", "technician-of-the-demo")
        self.page.keyboard.press("Enter")
        self.page.wait_for_url(lambda url: "/account/login" not in url, wait_until="commit")

    # What the tablet holds

    def kept(self) -> dict[str, Any]:
        """Give the entries in the tablet's own database, and its name."""
        from playwright.sync_api import Error

        for _ in range(200):
            try:
                return dict(self.page.evaluate(KEPT))
            except Error:
                self.page.wait_for_timeout(PAUSE_MS)
        raise AssertionError("the tablet's database can't be opened")

    def holds(self, entry: Typed) -> bool:
        """Say whether the tablet has kept as many of a value as were typed."""
        wanted = sum(one.raw == entry.raw for one in self.typed)
        held = [one for one in self.kept()["entries"] if one["session"] == self.session]
        return sum(f'"raw":"{entry.raw}"' in one["text"] for one in held) >= wanted

    def waits(self) -> int:
        """Count what waits on the tablet."""
        return sum(one["state"] == "waiting" for one in self.kept()["entries"])

    # What befalls it

    def mend(self) -> None:
        """Give the network back."""
        self.context.set_offline(False)
        self.is_cut = False

    def cut(self) -> None:
        """Cut the network."""
        self.context.set_offline(True)
        self.is_cut = True

    def once(self, handler: Any) -> None:
        """Let something happen to the next message with readings, and only to that."""
        self.page.route(SENT, handler, times=1)

    def until_held(self) -> None:
        """Wait until the tablet has what was typed in its own database; what it does not take is entered again."""
        end = time.monotonic() + 1
        while not all(self.holds(one) for one in self.pending):
            self.page.wait_for_timeout(PAUSE_MS)
            if time.monotonic() > end:
                return self.acknowledge()


def _reload(tablet: Tablet) -> None:
    """Load the page again: in a cut the tablet opens it by itself, and somebody goes on there."""
    from playwright.sync_api import Error

    _stay_or_mend(tablet)
    try:
        tablet.page.reload(wait_until="commit")
    except Error:  # nobody answers, or the page was being replaced at that moment
        tablet.go(f"/bench/session/{tablet.session}/")


def _reopen(tablet: Tablet) -> None:
    tablet.until_held()
    _stay_or_mend(tablet)
    with tablet.page.expect_event("close"):
        tablet.page.close(run_before_unload=True)  # as a person closes it; the other way has no time limit
    tablet.page = tablet.context.new_page()
    tablet.go(f"/bench/session/{tablet.session}/")
    tablet.quiet()


def _stay_or_mend(tablet: Tablet) -> None:
    """Leave the network cut where the tablet can do without; otherwise somebody waits for it."""
    if tablet.is_cut and tablet.reopens():
        tablet.reopened += 1
    else:
        tablet.mend()


def _expire(tablet: Tablet) -> None:
    tablet.laboratory.clerk.ask("sign_out")


def _lost(route: Route) -> None:
    with _gone():
        route.fetch()
    route.abort()


def _twice(tablet: Tablet) -> Any:
    def handle(route: Route) -> None:
        request = route.request
        copy = urllib.request.Request(
            request.url, data=request.post_data_buffer, headers=request.all_headers(), method="POST"
        )
        second = threading.Thread(target=_post, args=(copy,))
        second.start()
        with _gone():
            route.continue_()
        second.join()

    return handle


def _post(request: urllib.request.Request) -> None:
    try:
        urllib.request.urlopen(request, timeout=10).close()
    except URLError:
        return  # refused or cut like any other


def _slow(tablet: Tablet) -> Any:
    def handle(route: Route) -> None:
        tablet.page.wait_for_timeout(SLOW_MS)
        with _gone():
            route.continue_()

    return handle


def _kill(tablet: Tablet) -> Any:
    def handle(route: Route) -> None:
        with _gone():
            route.continue_()
        tablet.laboratory.kill()

    return handle


class _gone:
    """Bears a message whose page has gone in the meantime, or that nobody answers."""

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, trace: Any) -> bool:
        from playwright.sync_api import Error

        return kind is not None and issubclass(kind, Error)


DURING: dict[str, Any] = {
    "lost": lambda tablet: tablet.once(_lost),
    "twice": lambda tablet: tablet.once(_twice(tablet)),
    "slow": lambda tablet: tablet.once(_slow(tablet)),
    "gateway": lambda tablet: tablet.once(lambda route: route.fulfill(status=502, body="nobody there")),
    "portal": lambda tablet: tablet.once(
        lambda route: route.fulfill(status=200, content_type="text/html", body="<h1>Welcome</h1>")
    ),
    "kill": lambda tablet: tablet.once(_kill(tablet)),
    "expire": _expire,
    "swallow": lambda tablet: tablet.once(lambda route: None),
}
"""What is made ready before Enter is pressed."""

AFTER: dict[str, Any] = {
    "cut": Tablet.cut,
    "reload": _reload,
    "close": _reopen,
}
"""What happens as soon as it is."""

BETWEEN: dict[str, Any] = {
    "cut": Tablet.cut,
    "mend": Tablet.mend,
    "reload": _reload,
    "reopen": _reopen,
    "kill": lambda tablet: tablet.laboratory.kill(),
    "expire": _expire,
}
"""What happens between two readings."""
