"""Addresses of the Lab place. The site includes them below ``/lab/``."""

from __future__ import annotations

from django.urls import URLPattern, path

from labsys.laboratory.views import agreements, arithmetic, facts, index, settings, settling

urlpatterns: list[URLPattern] = [
    path("", index.lab, name="lab"),
    path("agreements/", agreements.agreements, name="agreements"),
    path("agreements/record/", settling.settle, name="agreement-record"),
    path("agreements/<int:pk>/", agreements.agreement, name="agreement"),
    path("agreements/<int:pk>/settle-anew/", settling.settle, name="agreement-settle-anew"),
    path("agreements/<int:pk>/withdraw/", settling.withdraw, name="agreement-withdraw"),
    path("arithmetic/", arithmetic.arithmetic, name="arithmetic"),
    path("arithmetic/validate/", arithmetic.validate, name="arithmetic-validate"),
    path("bench-hours/", settings.capacity, name="capacity"),
    path("bench-hours/set/", settings.capacity_set, name="capacity-set"),
    path("details/", settings.details, name="details"),
    path("details/set/", settings.details_set, name="details-set"),
]
for _kind in facts.KINDS:
    urlpatterns += [
        path(f"{_kind}/", facts.listing, {"kind": _kind}, name=_kind),
        path(f"{_kind}/add/", facts.add, {"kind": _kind}, name=f"{_kind}-add"),
        path(f"{_kind}/<int:pk>/", facts.change, {"kind": _kind}, name=f"{_kind}-change"),
    ]
