"""Lists in pages that don't jump: each begins behind the last row of the one before, at any depth."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django.db.models import QuerySet
from rest_framework.pagination import CursorPagination
from rest_framework.request import Request
from rest_framework.response import Response

from labsys.errors import LabError

COUNT_CAP = 10_000


class UnknownOrder(LabError, ValueError):
    """A list was asked for in an order it doesn't have."""

    code: ClassVar[str] = "unknown-order"
    sentence: ClassVar[str] = (
        "This list can't be ordered by “{found}”. It can be ordered by: {known}; “-” in front turns it round."
    )
    field: ClassVar[str | None] = "order"


class Paging(CursorPagination):
    """Gives ``limit`` rows from where ``cursor`` points, with how many there are (counted to a cap).

    The view says in ``orders`` which words ``order`` knows and the columns each stands for; the first must not be
    null, and the last must be unique.
    """

    page_size = 50
    max_page_size = 500
    page_size_query_param = "limit"
    cursor_query_param = "cursor"
    cursor_query_description = "where the page begins: as given in next and previous, never made up"
    page_size_query_description = "rows in a page, at most 500"

    def paginate_queryset(self, queryset: Any, request: Request, view: Any = None) -> list[Any] | None:
        """Cut the page, and count no further than the cap."""
        found = queryset.order_by().values("pk")[: COUNT_CAP + 1].count()
        self.count, self.is_capped = min(found, COUNT_CAP), found > COUNT_CAP
        # Where a page begins is read off its rows, so what they are ordered by comes with them.
        first = self.get_ordering(request, queryset, view)[0].lstrip("-")
        if "__" in first:
            queryset = queryset.select_related(first.rpartition("__")[0])
        return super().paginate_queryset(queryset, request, view=view)

    def get_ordering(self, request: Request, queryset: QuerySet, view: Any) -> tuple[str, ...]:
        """Read the order from the address; raises UnknownOrder."""
        orders: Mapping[str, tuple[str, ...]] = view.orders
        asked = request.query_params.get("order", view.default_order)
        names = orders.get(asked.removeprefix("-"))
        if names is None:
            raise UnknownOrder(found=asked, known=", ".join(orders))
        return tuple(_turned(name) for name in names) if asked.startswith("-") else names

    def get_paginated_response(self, data: Any) -> Response:
        """Answer with the rows, the neighbours and the count."""
        return Response(
            {
                "count": self.count,
                "count_is_capped": self.is_capped,
                "next": self.get_next_link(),
                "previous": self.get_previous_link(),
                "results": data,
            }
        )

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        """Describe that answer."""
        link = {"type": "string", "nullable": True, "format": "uri"}
        return {
            "type": "object",
            "required": ["count", "count_is_capped", "next", "previous", "results"],
            "properties": {
                "count": {"type": "integer", "maximum": COUNT_CAP},
                "count_is_capped": {"type": "boolean", "description": "true: there are more than count"},
                "next": link,
                "previous": link,
                "results": schema,
            },
        }

    def _get_position_from_instance(self, instance: Any, ordering: Any) -> Any:
        """Follow the column through its relations; the library reads the row's own attributes only."""
        value = instance
        for part in ordering[0].lstrip("-").split("__"):
            value = getattr(value, part)
        return None if value is None else str(value)


def _turned(name: str) -> str:
    return name[1:] if name.startswith("-") else f"-{name}"
