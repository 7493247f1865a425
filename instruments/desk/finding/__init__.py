"""Finding anything by what is written on it: a tag, a scanned label, a serial number, a certificate's number, a name.

Lives here: reads across the topics, each capped. What can be done with what was found is said with it.
"""

from __future__ import annotations

from instruments.desk.finding.asking import find
from instruments.desk.finding.matching import MOST
from instruments.desk.finding.scanned import scanned
from instruments.desk.finding.shapes import Found, Group, Way

__all__ = ["MOST", "Found", "Group", "Way", "find", "scanned"]
