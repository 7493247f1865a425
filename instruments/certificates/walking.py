"""The auditor's walk: from one certificate over its session to every standard used and up to where each chain ends.

Lives here: composing what the session's own link and the chains say. Page and evidence show the same walk.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from instruments.certificates.chains import chains_of
from instruments.certificates.models import Certificate
from instruments.certificates.work import link_of
from standards.traceability.queries import faults_of
from standards.traceability.queries.chain import Node
from standards.traceability.queries.shapes import Fault, LinkCheck


@dataclass(frozen=True)
class Walk:
    """A certificate with its session's own link and the chain of every calibration used."""

    certificate: Certificate
    link: LinkCheck
    chains: tuple[Node, ...]

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Give every fault on the way, the session's own first, each once."""
        above = (fault for chain in self.chains for fault in faults_of(chain))
        return tuple(dict.fromkeys((*self.link.faults, *above)))

    @property
    def holds(self) -> bool | None:
        """Say whether nothing on the way blocks; None where nothing was measured, so that nothing can be said."""
        if any(fault.level == "block" for fault in self.faults):
            return False
        return True if self.chains and self.link.holds else None

    def nodes(self) -> Iterator[Node]:
        """Give every calibration on the way; one that serves two others comes twice."""
        for chain in self.chains:
            yield from chain.walk()


def walk_of(certificate: Certificate) -> Walk:
    """Walk up from a certificate, each link at the moment it was relied on, by what is on record now."""
    session = certificate.session
    return Walk(certificate, link_of(session), chains_of(session))
