"""The site's addresses: each app brings its own index, named here as text, so that the site imports no app."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, include, path

from labsys import health
from labsys.accounts.urls import lab_urlpatterns, own_urlpatterns, sign_in_urlpatterns

urlpatterns: list[URLPattern | URLResolver] = [
    path("health/live", health.live, name="health-live"),
    path("health/ready", health.ready, name="health-ready"),
    path("health/clock", health.clock, name="health-clock"),
    path("metrics", health.metrics, name="metrics"),
    path("help/", include("labsys.pages.urls")),
    path("account/", include(own_urlpatterns)),
    path("account/", include(sign_in_urlpatterns)),
    path("account/second-factor/", include("allauth.mfa.urls")),
    path("account/sessions/", include("allauth.usersessions.urls")),
    path("journal/", include("labsys.journal.urls")),
    path("lab/", include(lab_urlpatterns)),
    path("lab/", include("labsys.laboratory.urls")),
    path("lab/", include("labsys.jobs.urls")),
    path("api/v1/", include("labsys.api.urls")),
    path("api/v1/", include("labsys.laboratory.api_urls")),
    path("api/v1/", include("standards.api_urls")),
    path("api/v1/", include("instruments.api_urls")),
    path("", include("standards.urls")),
    path("", include("instruments.urls")),
]
