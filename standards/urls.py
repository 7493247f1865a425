"""Index of the addresses of standards, by topic."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from standards.climate import views as climate
from standards.register.views import acts, listing
from standards.register.views import standards as pages
from standards.traceability.views import chains, files, issuers, receiving, reviewing

REGISTER = [
    path("standards/", listing.listing, name="standards"),
    path("standards/new/", acts.register, name="standard-new"),
    path("standards/<int:pk>/", pages.standard, name="standard"),
    path("standards/<int:pk>/change/", acts.change, name="standard-change"),
    path("standards/<int:pk>/state/", acts.change_state, name="standard-state"),
    path("standards/<int:pk>/return/", acts.return_to_service, name="standard-return"),
    path("standards/<int:pk>/elements/new/", acts.add_element, name="element-new"),
    path("standards/elements/<int:pk>/change/", acts.change_element, name="element-change"),
    path("standards/elements/<int:pk>/use/", acts.change_use, name="element-use"),
]
CLIMATE = [
    path("standards/<int:pk>/log/", climate.log, name="standard-log"),
    path("standards/<int:pk>/log/add/", climate.add, name="standard-log-add"),
]
TRACEABILITY = [
    path("standards/<int:pk>/certificates/new/", receiving.receive, name="certificate-receive"),
    path("standards/certificates/", reviewing.listing, name="certificates-received"),
    path("standards/certificates/<int:pk>/", reviewing.certificate, name="certificate-received"),
    path("standards/certificates/<int:pk>/file/", files.file, name="certificate-file"),
    path("standards/certificates/<int:pk>/file/new/", files.attach, name="certificate-attach"),
    path("standards/calibrations/<int:pk>/chain/", chains.chain, name="calibration-chain"),
    path("standards/issuers/", issuers.listing, name="issuers"),
    path("standards/issuers/new/", issuers.register, name="issuer-new"),
    path("standards/issuers/<int:pk>/", issuers.issuer, name="issuer"),
    path("standards/issuers/<int:pk>/scopes/new/", issuers.add_scope, name="scope-new"),
    path("standards/scopes/<int:pk>/withdraw/", issuers.withdraw_scope, name="scope-withdraw"),
]
urlpatterns: list[URLPattern | URLResolver] = [*REGISTER, *CLIMATE, *TRACEABILITY]
