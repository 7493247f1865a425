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
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING, Any
from urllib.error import URLError

from tests.faults.asked import KEPT, LOOK, REOPENS
from tests.faults.clerk import Clerk
from tests.faults.scripts import Act
from tests.stack import Stack, children, until

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Route

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
    page: Any = None

    # What the person does

    def begin(self) -> None:
        """Open the session's page."""
        self.page = self.context.new_page()
        self.go(f"/bench/session/{self.session}/")
        self.quiet()
        self.settle()

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
        is_still = bool(self.pending) and seen["point"] == self.pending[-1].point
        following = seen["next"] if is_still else None
        if self.pending and (
            not seen["point"] or following and self.value(following, steps) == self.pending[-1].raw
        ):
            self.acknowledge()
            seen, following = self.quiet(), None
        point = following or seen["point"]
        entry = Typed(point, "0" if point is None else self.value(point, steps))
        return entry if self.enter(entry, seen) else None

    def value(self, point: int, steps: int) -> str:
        """Give what the gauge shows at a point, so many steps of its display away from it."""
        return f"{Decimal(self.points[point]) + steps * self.step:f}"

    def enter(self, entry: Typed, seen: dict[str, Any]) -> bool:
        """Type a value into the field, over what stands there, and press Enter if the page is still the one seen."""
        from playwright.sync_api import Error

        try:
            self.page.focus("#raw", timeout=2000)
        except Error:
            return False
        self.page.keyboard.press("Control+a")
        self.page.keyboard.type(entry.raw)
        now = self.look()
        if now["value"] != entry.raw or now["point"] != seen["point"]:
            return False
        self.page.keyboard.press("Enter")
        entry.entered_at = time.monotonic()
        return True

    def acknowledge(self) -> None:
        """Look until the page shows nothing unsent; what it still shows is entered again, where it belongs."""
        end = time.monotonic() + PATIENCE_S
        while self.pending:
            seen = self.quiet()
            entry = self.pending[-1]
            if not seen["ready"] or not seen["value"]:
                self.pending.clear()
            elif not seen["on_its_way"] and time.monotonic() - entry.entered_at > BOUNCE_S:
                self.again(seen)
            assert time.monotonic() < end, f"the page neither takes nor refuses {entry}: {seen}"
            self.page.wait_for_timeout(PAUSE_MS)

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
    tablet.page.close()
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
