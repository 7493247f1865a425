"""How the sign-in library is told about this laboratory's people. No acts and no queries of ours."""

from __future__ import annotations

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class AccountAdapter(DefaultAccountAdapter):  # type: ignore[misc]
    """Keeps sign-up closed: a person gets an account from the laboratory, with a role."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Answer no, always."""
        return False
