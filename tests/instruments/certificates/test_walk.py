"""The auditor's walk: session, working set calibrated in the house, reference set, national institute.

What a link and its faults are: ISO/IEC 17025:2017, 6.5 and annex A; the routes to a terminus: ILAC-P10:07/2020.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date

import pytest
from django.core.files.storage import default_storage
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from instruments.certificates.models import Certificate
from instruments.certificates.walking import walk_of
from labsys.accounts.models import Activity
from labsys.accounts.operations import withdraw_authorisation
from standards.register.operations import change_state
from standards.traceability.models import CertificateReceived
from tests import laboratory
from tests.instruments.certificates.traced import trace_in_house
from tests.laboratory import Lab
from tests.once import made_once

MEASURED_ON, COMPARED_ON = date(2025, 6, 3), date(2025, 3, 3)


@pytest.fixture(scope="module")
def first_day(request: pytest.FixtureRequest) -> Iterator[Callable[[], Lab]]:
    """A laboratory whose working set hangs on a reference set of the institute's."""

    def make() -> Lab:
        made = laboratory.build()
        trace_in_house(made)
        return made

    with made_once(request, make) as own:
        yield own


def _text(certificate: Certificate, client: Client, lab: Lab) -> str:
    client.force_login(lab.auditor)
    answer = client.get(reverse("certificate-chain", args=[certificate.pk]))
    assert answer.status_code == 200
    return answer.content.decode()


def test_it_goes_up_three_levels_each_on_the_day_it_was_relied_on(signed: Certificate) -> None:
    walk = walk_of(signed)
    assert walk.holds is True
    working = next(node for node in walk.chains if node.calibration.standard.tag.text == "GB-01")
    assert working.certificate is not None
    (reference,) = working.upstream
    assert (working.use.day, working.certificate.number, working.is_terminus) == (
        MEASURED_ON,
        "KB-GB-01/25-H",
        False,
    )
    assert (reference.use.day, reference.calibration.standard.tag.text) == (COMPARED_ON, "RB-01")
    assert reference.certificate is not None
    assert reference.certificate.issuer.kind == "institute"
    assert (reference.is_terminus, reference.upstream) == (True, ())


def test_the_page_shows_every_link_with_its_word_and_leads_to_the_files(
    signed: Certificate, client: Client, lab: Lab
) -> None:
    text = _text(signed, client, lab)
    assert "Every link that is checked holds" in text
    for day, tag in ((MEASURED_ON, "GB-01"), (COMPARED_ON, "RB-01"), (MEASURED_ON, "SR-01")):
        assert f'aria-label="Checks of {tag} on {day}"' in text
    for code in ("L1", "L2", "L3", "L4", "L5", "L6", "L7", "L8", "L10"):
        assert text.count(f'<span class="quiet">{code}</span>') == 3
    assert text.count('<span class="quiet">L9</span>') == 1
    assert text.count("not checked yet</b>") == 3 * len(("L6", "L7", "L10"))
    assert "broken</b>" not in text
    received = CertificateReceived.objects.get(number="KB-RB-01/25")
    assert f'href="{reverse("certificate-file", args=[received.pk])}"' in text
    assert text.count("the chain ends here") == 2


def test_a_lapsed_authority_shows_on_the_page_with_its_code(
    signed: Certificate, client: Client, lab: Lab
) -> None:
    withdraw_authorisation(
        person=lab.technician, activity=Activity.MEASURE, family=lab.family, reason="never trained",
        by=laboratory.SETUP, now=signed.session.opened_at,
    )  # fmt: skip
    text = _text(signed, client, lab)
    assert "The chain is broken" in text
    assert "<b>F16</b> The technician was not authorised to measure Caliper on 2025-06-03." in text
    assert text.count("broken here") == 1


def test_a_fault_at_the_top_is_named_and_breaks_everything_below(
    signed: Certificate, client: Client, lab: Lab
) -> None:
    default_storage.delete(str(CertificateReceived.objects.get(number="KB-RB-01/25").file.name))
    walk = walk_of(signed)
    assert (walk.holds, walk.link.holds) == (False, True)
    assert [fault.code for fault in walk.faults] == ["F03"]
    text = _text(signed, client, lab)
    assert (text.count("broken here"), text.count('">broken above<')) == (1, 2)


def test_what_happened_to_the_reference_set_after_it_was_used_does_no_harm(
    signed: Certificate, lab: Lab
) -> None:
    reference = CertificateReceived.objects.get(number="KB-RB-01/25").calibration.standard
    change_state(
        standard=reference,
        state="out-of-service",
        reason="lent",
        by=lab.manager,
        now=signed.session.opened_at,
    )
    assert walk_of(signed).holds is True


def test_who_may_walk(signed: Certificate, client: Client, lab: Lab) -> None:
    address = reverse("certificate-chain", args=[signed.pk])
    assert client.get(address).status_code == 302
    for role, status in (("manager", 200), ("technician", 200), ("reviewer", 200), ("floor", 403)):
        client.force_login(getattr(lab, role))
        assert client.get(address).status_code == status, role
    client.force_login(lab.auditor)
    assert address in client.get(reverse("certificate", args=[signed.pk])).content.decode()
    assert client.get(reverse("certificate-chain", args=[signed.pk + 1])).status_code == 404


def test_walking_writes_nothing_and_asks_within_its_budget(
    signed: Certificate, client: Client, lab: Lab
) -> None:
    _text(signed, client, lab)
    with CaptureQueriesContext(connection) as asked:
        client.get(reverse("certificate-chain", args=[signed.pk]))
    assert [query["sql"] for query in asked if not query["sql"].startswith("SELECT")] == []
    assert len(asked) <= 60
