"""The published description of all addresses: every error a caller may meet is declared in it."""

from __future__ import annotations

from typing import Any

from drf_spectacular.openapi import AutoSchema
from drf_spectacular.plumbing import ResolvedComponent
from drf_spectacular.utils import OpenApiParameter

from labsys.api.errors import ERROR

SAID = {
    "400": "What was asked can't be understood; the sentence says why.",
    "401": "Nobody is signed in, or the token isn't known, or it was revoked.",
    "403": "The person's role may not do this.",
    "404": "There is no such record, or no such page of the list.",
    "409": "The laboratory's rules refuse this; the sentence says what to do next.",
}


class Schema(AutoSchema):
    """Adds to every address the errors it may answer with, and the parameters every list shares."""

    def get_override_parameters(self) -> list[Any]:
        """Describe what lists share: the order and the chosen fields."""
        found = [OpenApiParameter("fields", str, description="names, separated by commas: give only these")]
        view: Any = self.view
        orders = getattr(view, "orders", None)
        if orders:
            both = [text for name in orders for text in (name, f"-{name}")]
            found.append(OpenApiParameter("order", str, enum=both, default=view.default_order))
        return found if "fields" in getattr(view, "parameters", ()) else []

    def get_operation(self, *args: Any) -> dict[str, Any] | None:
        """Describe the address, and declare its errors."""
        operation: dict[str, Any] | None = super().get_operation(*args)
        if operation is not None:
            component: ResolvedComponent = self.resolve_serializer(ERROR, "response")
            for status in self._statuses():
                content = {"application/json": {"schema": component.ref}}
                operation["responses"].setdefault(status, {"content": content, "description": SAID[status]})
        return operation

    def _statuses(self) -> list[str]:
        reads = self.method == "GET"
        return [status for status in SAID if not (reads and status == "409")]
