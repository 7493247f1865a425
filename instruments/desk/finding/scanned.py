"""What a scanner sent: the code of a gauge's or a standard's label, or of a certificate, alone or in its address."""

from __future__ import annotations

import re

from django.urls import reverse

from instruments.certificates.models import Certificate
from labsys.laboratory.models import Tag

# 128 bits as hexadecimal digits, alone or as a piece of an address.
_CODE = re.compile(r"(?:^|/)([0-9a-f]{32})(?:$|[/?#])", re.IGNORECASE)


def scanned(text: str) -> str:
    """Give the address of the page of what carries a scanned code; empty where it is none, or nothing carries it."""
    code = _CODE.search(text.strip())
    return _page(code[1].lower()) if code else ""


def _page(code: str) -> str:
    tag = Tag.objects.filter(code=code).values_list("gauge", "standard").first()
    gauge, standard = tag or (None, None)
    if gauge is not None:
        return reverse("gauge", args=[gauge])
    if standard is not None:
        return reverse("standard", args=[standard])
    certificate = Certificate.objects.filter(code=code).values_list("pk", flat=True).first()
    return "" if certificate is None else reverse("certificate", args=[certificate])
