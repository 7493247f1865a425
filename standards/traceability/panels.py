"""What traceability puts onto the page of a standard and into the list: the chain in force, who relies on it."""

from __future__ import annotations

from datetime import datetime

from standards.register import panels
from standards.register.queries import calibration_in_force
from standards.traceability.queries import chain_of, faults_of, relied_on_by


def chain(asked: panels.Asked) -> panels.Panel:
    """Show the chain of the calibration in force at that instant, and what relies on the standard then."""
    calibration = calibration_in_force(asked.standard, asked.at)
    node = chain_of(calibration, asked.at) if calibration else None
    relying = relied_on_by([asked.standard.pk], asked.at).get(asked.standard.pk, ())
    context = {"node": node, "faults": faults_of(node) if node else (), "relying": relying}
    return panels.Panel("chain", "Chain of traceability", "standards/traceability/chain_panel.html", context)


def _tags(ids: list[int], at: datetime) -> dict[int, str]:
    return {pk: ", ".join(tag for _pk, tag in rows) for pk, rows in relied_on_by(ids, at).items()}


def register() -> None:
    """Put both in their places; called once, at start."""
    panels.register(slug="chain", provider=chain, order=10)
    panels.register_column(panels.ListColumn("relied_on_by", "Relied on by", _tags))
