"""A procedure as people read it: the document of a revision, and two revisions side by side. Reads content only."""

from __future__ import annotations

from instruments.procedures.document.building import document
from instruments.procedures.document.difference import Changed, PartDifference, Piece, differences
from instruments.procedures.document.parts import Entry, Part

__all__ = ["Changed", "Entry", "Part", "PartDifference", "Piece", "differences", "document"]
