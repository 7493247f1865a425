"""The site's addresses: each app brings its own index, named here as text, so that the site imports no app."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("account/", include("allauth.account.urls")),
    path("account/second-factor/", include("allauth.mfa.urls")),
    path("account/sessions/", include("allauth.usersessions.urls")),
    path("api/v1/", include("standards.api_urls")),
    path("api/v1/", include("instruments.api_urls")),
    path("", include("standards.urls")),
    path("", include("instruments.urls")),
]
