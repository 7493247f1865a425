"""Taking the evidence behind a certificate away: the records stay as they are, the journal says who took them."""

from __future__ import annotations

import hashlib
from datetime import datetime

from instruments.certificates.evidence import pack
from instruments.certificates.models import Certificate
from labsys.journal.access import READ_RECORDS
from labsys.journal.door import Acting, act, note
from labsys.journal.roles import require


@act("certificates.export-evidence")
def export_evidence(*, certificate: Certificate, by: Acting, now: datetime) -> bytes:
    """Pack the evidence behind a certificate into one zip; the journal notes who took which bytes."""
    require(by, READ_RECORDS)
    packed = pack(certificate)
    note(f"certificate:{certificate.pk}", after={"evidence_sha256": hashlib.sha256(packed).hexdigest()})
    return packed
