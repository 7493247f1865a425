"""What a check of a link is made of: when it was used, what was found, which fault that is.

Lives here: shapes alone. Codes L1… are the conditions of a valid link, F01… the faults an assessor would write down.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Literal

from standards.register.models import Calibration, ElementValue, StandardState
from standards.traceability.models import Accreditation, CertificateReceived, CertificateReview

Level = Literal["block", "warn"]
NOT_CHECKED = "not checked yet"


@dataclass(frozen=True)
class Use:
    """When a calibration was relied on. A whole day where only the day is known; an instant is a span of no length.

    ``values`` are the values that were used, where the user says so; None when that isn't known.
    """

    start: datetime
    end: datetime
    day: date
    values: tuple[ElementValue, ...] | None = None


@dataclass(frozen=True)
class Fault:
    """Something an assessor would write down about one calibration."""

    code: str
    sentence: str
    level: Level
    subject: str


@dataclass(frozen=True)
class LinkCheck:
    """What one condition of a valid link came to; ``holds`` None: not checked, which is never a pass."""

    code: str
    word: str
    holds: bool | None
    sentence: str
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class Facts:
    """Everything on record about one calibration that its checks ask for, loaded beforehand.

    ``successors``: for each element, the other accepted calibrations of it as (calibrated on, accepted at, id).
    """

    calibration: Calibration
    certificate: CertificateReceived | None
    review: CertificateReview | None
    values: tuple[ElementValue, ...]
    elements: int
    upstream: tuple[int, ...]
    states: tuple[StandardState, ...]
    scopes: tuple[Accreditation, ...]
    file_fault: str | None
    successors: Mapping[int, tuple[tuple[date, datetime, int], ...]] = field(default_factory=dict)

    @property
    def subject(self) -> str:
        """Name the calibration as the journal does."""
        return f"calibration:{self.calibration.pk}"

    @property
    def tag(self) -> str:
        """Give the tag of the standard."""
        return self.calibration.standard.tag.text

    def fault(self, code: str, sentence: str, level: Level = "block") -> Fault:
        """Make a fault of this calibration."""
        return Fault(code, sentence, level, self.subject)


def judged(code: str, word: str, faults: list[Fault], fine: str) -> LinkCheck:
    """Make a check of its faults: it holds unless one of them blocks; without any the sentence is ``fine``."""
    holds = not any(fault.level == "block" for fault in faults)
    sentence = " ".join(fault.sentence for fault in faults) or fine
    return LinkCheck(code, word, holds, sentence, tuple(faults))
