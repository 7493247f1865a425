"""The places that the header offers. Apps register theirs at start, so that no lower template names a higher address.

What may be offered to whom is the registering app's word; here is only the order.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.http import HttpRequest
from django.urls import reverse

from labsys.errors import LabError

ORDER = ("Bench", "Gauges", "Standards", "Planning", "Cases", "Reviews", "Journal", "Lab")

Permission = str | Callable[[HttpRequest], bool] | None


class UnknownPlace(LabError, ValueError):
    """A place that the header has no seat for."""

    code = "unknown-place"
    sentence = "The header has no place “{name}”; it has {known}. Register one of these."


class PlaceTaken(LabError, ValueError):
    """Two apps claim one place."""

    code = "place-taken"
    sentence = "The place “{name}” leads to {taken} already and can't lead to {wanted} too."


@dataclass(frozen=True)
class Place:
    """One entry of the header: its name, the name of its address, and who may see it.

    ``permission`` is a permission's name, a question asked of the request, or None for everybody signed in.
    """

    name: str
    url_name: str
    permission: Permission = None

    def is_open_to(self, request: HttpRequest) -> bool:
        """Tell whether the person behind the request may be offered this place."""
        user = request.user
        if not user.is_authenticated:
            return False
        if callable(self.permission):
            return self.permission(request)
        return self.permission is None or user.has_perm(self.permission)


@dataclass(frozen=True)
class Offer:
    """A place as the header shows it to one person on one page."""

    name: str
    url: str
    current: bool
    exact: bool


_places: dict[str, Place] = {}


def register(*, name: str, url_name: str, permission: Permission = None) -> None:
    """Put a place into the header; called from an app's ``ready``.

    Raises UnknownPlace for a name outside ORDER and PlaceTaken when the place leads elsewhere already.
    """
    if name not in ORDER:
        raise UnknownPlace(name=name, known=", ".join(ORDER))
    taken = _places.get(name)
    if taken and taken.url_name != url_name:
        raise PlaceTaken(name=name, taken=taken.url_name, wanted=url_name)
    _places[name] = Place(name=name, url_name=url_name, permission=permission)


def offers(request: HttpRequest) -> list[Offer]:
    """Give what the header offers to the person behind the request, in the fixed order."""
    seen = [_places[name] for name in ORDER if name in _places]
    addresses = [(place.name, reverse(place.url_name)) for place in seen if place.is_open_to(request)]
    # "/gauges/" is open on "/gauges/12/" too; where two addresses fit, the longer one is meant.
    fitting = [
        url for _, url in addresses if request.path.startswith(url) and (url != "/" or request.path == "/")
    ]
    here = max(fitting, key=len, default=None)
    return [
        Offer(name=name, url=url, current=url == here, exact=url == request.path) for name, url in addresses
    ]
