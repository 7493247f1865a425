"""The chain from a calibration up to where it ends, every link checked at the moment it was relied on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import ClassVar

from labsys.errors import LabError
from labsys.laboratory.queries import local_date, start_of_day
from standards.register.models import Calibration, ElementValue
from standards.register.queries import end_of_day
from standards.traceability.models import CertificateReceived
from standards.traceability.queries import competence, links
from standards.traceability.queries.facts import load
from standards.traceability.queries.shapes import Facts, Fault, LinkCheck, Use


class ChainBroken(LabError):
    """A calibration was to be relied on whose chain doesn't hold at that moment (17025, 6.5)."""

    code: ClassVar[str] = "chain-broken"
    sentence: ClassVar[str] = (
        "The chain of {tag} is broken on {day}: {first}{more} "
        "Mend that and try again, or use a standard whose chain holds."
    )
    field: ClassVar[str | None] = "standard"


@dataclass(frozen=True)
class Node:
    """A calibration in a chain, with its checks at ``use`` and what it relied on."""

    calibration: Calibration
    certificate: CertificateReceived | None
    links: tuple[LinkCheck, ...]
    upstream: tuple[Node, ...]
    is_terminus: bool
    depth: int
    use: Use
    own_faults: tuple[Fault, ...]

    @property
    def holds(self) -> bool:
        """Say whether nothing here or above blocks."""
        return not any(fault.level == "block" for fault in faults_of(self))

    @property
    def holds_here(self) -> bool:
        """Say whether nothing at this very link blocks."""
        return not any(fault.level == "block" for fault in self.own_faults)

    def walk(self) -> Iterator[Node]:
        """Give this node and everything above it, depth first."""
        yield self
        for node in self.upstream:
            yield from node.walk()


def chain_of(calibration: Calibration, at: datetime, values: tuple[ElementValue, ...] | None = None) -> Node:
    """Build the chain of a calibration that was relied on at ``at``, with what is on record now.

    ``values`` are the element values that were used of it, where known. Every calibration above is checked at the day
    of the calibration below it, the day on which it was relied on. A circle is cut where it closes and is fault F19.
    """
    use = Use(at, at, local_date(at), values)
    return _node(load([calibration]), calibration.pk, use, ())


def faults_of(node: Node) -> tuple[Fault, ...]:
    """List the faults of a chain, from the calibration upward, each once."""
    return tuple(dict.fromkeys(fault for one in node.walk() for fault in one.own_faults))


def require_unbroken(
    calibrations: Iterable[Calibration],
    at: datetime,
    values: Iterable[ElementValue] | None = None,
) -> tuple[Node, ...]:
    """Give the chains of the calibrations relied on at ``at``; raises ChainBroken for the first that doesn't hold.

    ``values``: the element values used; each is checked against the calibration it came from.
    """
    roots = list(calibrations)
    facts, day = load(roots), local_date(at)
    shares = _shares(roots, None if values is None else tuple(values))
    nodes = tuple(_node(facts, pk, Use(at, at, day, share), ()) for pk, share in shares.items())
    for node in nodes:
        _refuse_broken(node)
    return nodes


def _shares(
    roots: list[Calibration], values: tuple[ElementValue, ...] | None
) -> dict[int, tuple[ElementValue, ...] | None]:
    """Deal the values used out to the calibrations they came from; a stray one goes to the first, which it breaks."""
    ids = list(dict.fromkeys(root.pk for root in roots))
    if values is None:
        return dict.fromkeys(ids)
    dealt: dict[int, list[ElementValue]] = {pk: [] for pk in ids}
    for value in values:
        dealt[value.calibration_id if value.calibration_id in dealt else ids[0]].append(value)
    return {pk: tuple(share) for pk, share in dealt.items()}


def _node(facts: Mapping[int, Facts], pk: int, use: Use, path: tuple[int, ...]) -> Node:
    own, here = facts[pk], (*path, pk)
    day = own.calibration.calibrated_on
    relied = Use(start_of_day(day), end_of_day(day), day)
    above = [one for one in own.upstream if one not in here]
    upstream = tuple(_node(facts, one, relied, here) for one in above)
    is_circle = len(above) < len(own.upstream)
    issuer = competence.issuer(own, upstream_holds=not is_circle and all(node.holds for node in upstream))
    checks = _checks(own, use, issuer, [facts[one] for one in above])
    faults = [fault for check in checks for fault in check.faults]
    if is_circle:
        faults.append(
            own.fault("F19", f"The chain of {own.tag} comes back to itself: it relies on what relies on it.")
        )
    return Node(
        calibration=own.calibration,
        certificate=own.certificate,
        links=checks,
        upstream=upstream,
        is_terminus=competence.is_terminus(own, issuer),
        depth=len(path),
        use=use,
        own_faults=tuple(faults),
    )


def _checks(own: Facts, use: Use, issuer: LinkCheck, above: list[Facts]) -> tuple[LinkCheck, ...]:
    conditions, doubts = links.unasked()
    return (
        links.certificate(own),
        links.dates(own, use),
        links.review(own, use),
        issuer,
        links.values(own, above),
        conditions,
        links.service(own, use),
        links.corrections(own, use),
        doubts,
    )


def _refuse_broken(node: Node) -> None:
    blocking = [fault for fault in faults_of(node) if fault.level == "block"]
    if not blocking:
        return
    rest = len(blocking) - 1
    raise ChainBroken(
        tag=str(node.calibration.standard.tag),
        day=f"{node.use.day}",
        first=blocking[0].sentence,
        more=f" ({rest} more.)" if rest else "",
        faults=[asdict(fault) for fault in blocking],
        subject=f"calibration:{node.calibration.pk}",
    )
