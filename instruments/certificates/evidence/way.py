"""The walk as data for programs and as a page that opens without the laboratory's system; both say the same."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.template.loader import render_to_string

from instruments.certificates.evidence.parts import Part, own_folder, own_of, received_name, text
from instruments.certificates.walking import Walk
from labsys.pages.palette import PRINT
from standards.traceability.queries.chain import Node
from standards.traceability.queries.shapes import Fault, LinkCheck

TEMPLATE = "instruments/certificates/evidence_chain.html"
WORDS = {None: "not checked yet", True: "holds", False: "broken"}


def way_of(walk: Walk) -> Iterator[Part]:
    """Write the walk twice: as JSON and as HTML."""
    told = _told(walk)
    yield Part("chain.json", text(told))
    yield Part("chain.html", render_to_string(TEMPLATE, {"way": told, "p": PRINT}).encode())


def _told(walk: Walk) -> dict[str, Any]:
    session = walk.certificate.session
    return {
        "certificate": walk.certificate.number,
        "gauge": session.gauge.tag.text,
        "chain": "nothing was measured" if walk.holds is None else WORDS[walk.holds],
        "faults": [_fault(fault) for fault in walk.faults],
        "session": {"id": session.pk, "procedure": str(session.revision), "link": _link(walk.link)},
        "standards": [_node(chain) for chain in walk.chains],
    }


def _node(node: Node) -> dict[str, Any]:
    standard = node.calibration.standard
    return {
        "standard": standard.tag.text,
        "name": standard.name,
        "serial": standard.serial,
        "calibrated_on": f"{node.calibration.calibrated_on:%Y-%m-%d}",
        "used_on": f"{node.use.day:%Y-%m-%d}",
        **_certificate(node),
        "ends_here": node.is_terminus,
        "chain": WORDS[node.holds],
        "links": [_link(link) for link in node.links],
        "relies_on": [_node(above) for above in node.upstream],
    }


def _certificate(node: Node) -> dict[str, str | None]:
    """Name the certificate and the file it lies in beside this one."""
    received, own = node.certificate, own_of(node)
    if received is not None:
        name = received_name(node, received) if received.file else None
        return {"issuer": received.issuer.name, "certificate": received.number, "file": name}
    if own is not None:
        return {
            "issuer": "this laboratory",
            "certificate": own.number,
            "file": f"{own_folder(node, own)}certificate.pdf",
        }
    return {"issuer": None, "certificate": None, "file": None}


def _link(link: LinkCheck) -> dict[str, str]:
    return {"code": link.code, "word": link.word, "holds": WORDS[link.holds], "sentence": link.sentence}


def _fault(fault: Fault) -> dict[str, str]:
    return {"code": fault.code, "level": fault.level, "sentence": fault.sentence, "subject": fault.subject}
