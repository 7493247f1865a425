"""How a program shows in whose name it reads: a token in the header, of which only the hash is known here."""

from __future__ import annotations

from django.utils import timezone
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from labsys.accounts.models import ApiToken, Person
from labsys.accounts.operations import hash_of_token, note_use
from labsys.accounts.queries import token_in_use

UNKNOWN = "This token isn't known, or it was revoked. Make a new one on your own account's page."


class TokenAuthentication(BaseAuthentication):
    """``Authorization: Bearer <token>``; the program then may what the person may."""

    keyword = "Bearer"

    def authenticate(self, request: Request) -> tuple[Person, ApiToken] | None:
        """Find the person; None where no token was sent, refused where it is none of ours."""
        parts = get_authorization_header(request).split()
        if not parts or parts[0].lower() != self.keyword.lower().encode():
            return None
        token = token_in_use(hash_of_token(parts[1].decode("latin-1"))) if len(parts) == 2 else None
        if token is None:
            raise AuthenticationFailed(UNKNOWN)
        note_use(token, now=timezone.now())
        return token.person, token

    def authenticate_header(self, request: Request) -> str:
        """Say in the answer 401 how to sign in."""
        return self.keyword


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """Describes the token in the published schema."""

    target_class = TokenAuthentication
    name = "token"

    def get_security_definition(self, auto_schema: object) -> dict[str, str]:
        """Give the scheme's description."""
        return {"type": "http", "scheme": "bearer", "description": "a token from your own account's page"}
