"""The parts of a certificate. Lengths are millimetres as exact decimals; what is printed stands beside them as text.

Format 1. A field is never renamed or dropped within a format, since certificates are read for decades.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from instruments.certificates.document.results import Conformity, Stage, Uncertainty

FORMAT = 2
"""2: lines have a kind, a name and a step of their own, and no U of what only fits."""


@dataclass(frozen=True, slots=True)
class Laboratory:
    """Who issues the certificate, as it called itself on the day of issue."""

    name: str
    address: str
    contact: str


@dataclass(frozen=True, slots=True)
class Customer:
    """For whom the work was done; in an in-house laboratory the department that owns the gauge."""

    name: str
    contact: str
    owner: str = ""


@dataclass(frozen=True, slots=True)
class Item:
    """The gauge. ``resolution`` is one step in ``unit``, which it shows and the results are printed in."""

    tag: str
    family: str
    maker: str
    model: str
    serial: str
    unit: str
    resolution: str
    range_text: str
    functions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Receipt:
    """When the gauge came and in which state; ``departure`` is the disclaimer where it was damaged and measured all
    the same.
    """

    received_on: date
    condition: str
    damaged: bool = False
    departure: str = ""


@dataclass(frozen=True, slots=True)
class Method:
    """How it was done: the procedure with the revision that was in force, and the documents it follows."""

    code: str
    title: str
    revision: int
    approved_on: date
    documents: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Conditions:
    """The room while it was done. Temperatures in °C, humidity in percent, ``soak`` and ``reference`` as sentences."""

    temperature_mean_c: Decimal
    temperature_low_c: Decimal
    temperature_high_c: Decimal
    humidity: str
    sensors: tuple[str, ...]
    soak: str
    expansion: str
    reference: str


@dataclass(frozen=True, slots=True)
class StandardUsed:
    """A standard the results stand on, with the certificate that was in force when it was used."""

    tag: str
    name: str
    serial: str
    certificate: str
    issuer: str
    route: str
    calibrated_on: date
    due_on: date


@dataclass(frozen=True, slots=True)
class Adjustment:
    """What was done to the gauge between as found and as left."""

    what: str
    on: date
    by: str
    parts: str = ""
    seal: str = ""
    firmware: str = ""


@dataclass(frozen=True, slots=True)
class Deviation:
    """A rule of the procedure that was not kept, accepted with a reason."""

    sentence: str
    reason: str
    accepted_by: str
    owner_consent: str = ""


@dataclass(frozen=True, slots=True)
class Due:
    """A due date, which stands on a certificate only where the customer agreed to it (17025, 7.8.4.3)."""

    due_on: date
    agreement: str


@dataclass(frozen=True, slots=True)
class Signer:
    """Somebody who answers for the certificate, and for what (``performed`` or ``authorised``)."""

    person: str
    name: str
    role: str
    meaning: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Replaces:
    """The certificate that this one takes the place of, and what changed for which reason (17025, 7.8.8)."""

    number: str
    changes: str
    reason: str


@dataclass(frozen=True, slots=True)
class Statements:
    """The sentences that hold for the whole certificate."""

    measurand: str
    sign: str
    relates_only: str
    reproduction: str
    traceability: str
    sets: str
    limited: str = ""
    one_signature: str = ""


@dataclass(frozen=True, slots=True)
class Document:
    """Everything a certificate says. Frozen when it gets its number; its canonical text is what is signed.

    ``zone`` is the time zone that days are counted and instants printed in.
    ``rejections`` are the reasons for which the gauge was rejected as it is; where they ended the job before anything
    was measured there are no stages.
    """

    format: int
    title: str
    number: str
    code: str
    verification_url: str
    laboratory: Laboratory
    place: str
    place_is_laboratory: bool
    customer: Customer
    item: Item
    receipt: Receipt
    calibrated_from: date
    calibrated_to: date
    issued_on: date
    zone: str
    method: Method
    conditions: Conditions
    standards: tuple[StandardUsed, ...]
    stages: tuple[Stage, ...]
    uncertainty: Uncertainty
    statements: Statements
    signers: tuple[Signer, ...]
    conformity: Conformity | None = None
    adjustments: tuple[Adjustment, ...] = ()
    as_found_missing: str = ""
    rejections: tuple[str, ...] = ()
    deviations: tuple[Deviation, ...] = ()
    not_measured: tuple[str, ...] = ()
    customer_data: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    due: Due | None = None
    replaces: Replaces | None = None
