"""How the sign-in library is told about this laboratory's people. No acts and no queries of ours."""

from __future__ import annotations

import logging
from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.mfa import signals
from django.contrib.auth.base_user import AbstractBaseUser
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from labsys.accounts import operations
from labsys.accounts.models import Person

log = logging.getLogger(__name__)


class AccountAdapter(DefaultAccountAdapter):  # type: ignore[misc]
    """Keeps sign-up closed, passes new passwords through the door of acts, and logs who signs in and who fails to."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Answer no, always: a person gets an account from the laboratory, with a role."""
        return False

    def set_password(self, user: Person, password: str) -> None:
        """Set a password that its person chose."""
        operations.set_password(password=password, by=user, now=timezone.now())

    def post_login(self, request: HttpRequest, user: AbstractBaseUser, **more: Any) -> HttpResponse:
        """Log who signed in."""
        log.info("%s signed in from %s", user.get_username(), self.get_client_ip(request))
        answer: HttpResponse = super().post_login(request, user, **more)
        return answer

    def authentication_failed(self, request: HttpRequest, **credentials: Any) -> None:
        """Log who was tried and from where; whoever guesses leaves a trace."""
        name = str(credentials.get("username", ""))[:60]
        log.warning("failed to sign in as %r from %s", name, self.get_client_ip(request))
        super().authentication_failed(request, **credentials)


def listen() -> None:
    """Journal what people do to their second factor; the library has no other word for it than its signals."""
    for signal, what in (
        (signals.authenticator_added, "added"),
        (signals.authenticator_removed, "removed"),
        (signals.authenticator_reset, "made anew"),
    ):
        signal.connect(_recorder(what), weak=False, dispatch_uid=f"labsys.second-factor.{what}")


def _recorder(what: str) -> Any:
    def record(user: Person, authenticator: Any, **_: Any) -> None:
        kind = authenticator.get_type_display().lower()
        operations.record_second_factor(what=f"{kind} {what}", by=user, now=timezone.now())

    return record
