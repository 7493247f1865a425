"""The pages of certificates in a real Chromium: axe finds nothing, nothing overflows, nothing comes from elsewhere."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from instruments.certificates.evidence import pack
from instruments.certificates.models import Certificate, NumberSeries
from instruments.certificates.operations import lock_series, render
from instruments.measuring.models import Submission
from tests import laboratory, looking
from tests.instruments.certificates.conftest import sign
from tests.laboratory import PASSWORD, Lab

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("type_is_built")]


def test_every_page(lab: Lab, sitting: Callable[..., Submission], client: Client, chromium_path: str) -> None:
    laboratory.agreed(lab, due_date_printed=True)
    model = laboratory.caliper_model(lab)
    first, second = (laboratory.caliper_gauge(lab, model, tag=tag) for tag in ("C-0001", "C-0002"))
    done = sign(lab, sitting(first, lambda point: 4 if point.place == "tips" else 1))
    render(done, done.numbered_at + timedelta(minutes=1))
    waiting = sitting(second)
    public = reverse("certificate-verify", args=[done.code])
    pages = looking.make(client, [public])
    pages["/verify/unknown/"] = looking.Made.of(client.get("/verify/0/"))
    compared = client.post(public, {"file": _file()})
    pages["/verify/compared/"] = looking.Made.of(compared)
    client.force_login(lab.reviewer)
    signing = reverse("review-submission", args=[waiting.pk])
    pages |= looking.make(
        client,
        [
            reverse("certificates"),
            reverse("certificate", args=[done.pk]),
            reverse("certificate-chain", args=[done.pk]),
            reverse("certificate", args=[done.pk]) + "?on=2025-06-02",
            reverse("gauge", args=[first.pk]),
            signing,
            "/help/certificates/",
        ],
    )
    refused = client.post(signing, {"seen_sha256": waiting.record_sha256, "password": f"not {PASSWORD}"})
    assert refused.status_code == 422
    pages["/refused/sign/"] = looking.Made.of(refused)
    lock_series(reason="restored", by=lab.administrator, now=done.numbered_at)
    client.force_login(lab.manager)
    series = NumberSeries.objects.get()
    numbers = [reverse("certificate-numbers"), reverse("certificate-number-confirm", args=[series.pk])]
    pages |= looking.make(client, [*numbers, reverse("certificates") + "?state=withdrawn"])
    Certificate.objects.filter(pk=done.pk).update(state="withdrawn")
    pages["/withdrawn/"] = looking.Made.of(client.get(reverse("certificate", args=[done.pk])))
    with zipfile.ZipFile(io.BytesIO(pack(Certificate.objects.get(pk=done.pk)))) as evidence:
        pages["/evidence/chain.html"] = looking.Made(
            200, {"content-type": "text/html"}, evidence.read("chain.html")
        )
    assert looking.complaints(pages, chromium_path) == []


def _file() -> object:
    from django.core.files.uploadedfile import SimpleUploadedFile

    return SimpleUploadedFile("other.pdf", b"%PDF-1.7")
