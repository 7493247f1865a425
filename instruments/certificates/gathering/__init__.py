"""From records to the document: reads what a submission stands on and puts it into the certificate's words.

Lives here: reading and wording. May not live here: writing anything, judging anything anew, layout.
"""

from instruments.certificates.gathering.composing import Issue, NoLaboratoryDetails, compose, draft_of
from instruments.certificates.gathering.lines import ResultNotReproduced
from instruments.certificates.gathering.sources import Sources

__all__ = ["Issue", "NoLaboratoryDetails", "ResultNotReproduced", "Sources", "compose", "draft_of"]
