"""The frame of an address: who may ask, what it may be asked, in which order it answers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from rest_framework import generics
from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from labsys.api.paging import Paging
from labsys.errors import LabError


class UnknownParameter(LabError, ValueError):
    """A misspelt filter would silently give everything."""

    code: ClassVar[str] = "unknown-parameter"
    sentence: ClassVar[str] = "There is no parameter “{found}” here. There are: {known}."


class MayAsk(BasePermission):
    """Lets in whoever holds the view's ``permission``."""

    message = "Your role may not read this. Ask the laboratory manager."

    def has_permission(self, request: Request, view: Any) -> bool:
        """Tell whether the person behind the request holds it."""
        user: Any = request.user
        return bool(user.is_authenticated and user.may(view.permission))


class Reading(generics.GenericAPIView):
    """An address that is read; the topic names the ``permission``."""

    permission: ClassVar[str]
    permission_classes = (MayAsk,)
    parameters: ClassVar[tuple[str, ...]] = ("fields",)

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Refuse what nobody would answer, before anything is looked up; raises UnknownParameter."""
        super().initial(request, *args, **kwargs)
        known = self.known_parameters()
        for name in request.query_params:
            if name not in known:
                raise UnknownParameter(found=name, known=", ".join(known))

    def known_parameters(self) -> tuple[str, ...]:
        """List the parameters the address understands."""
        return self.parameters


class ReadOne(Reading, generics.RetrieveAPIView):
    """An address that gives one record."""


class ReadList(Reading, generics.ListAPIView):
    """An address that gives a list: filtered, ordered, in pages."""

    pagination_class = Paging
    orders: ClassVar[Mapping[str, tuple[str, ...]]]
    default_order: ClassVar[str]
    parameters = ("fields", "order", "limit", "cursor")

    def known_parameters(self) -> tuple[str, ...]:
        """List the list's own parameters and its filters."""
        filters: Any = getattr(self, "filterset_class", None)
        return (*self.parameters, *(filters.get_filters() if filters else ()))
