"""Index of the site's tables; each stands in its topic."""

from labsys.accounts.models import ApiToken, Authorisation, Person, Signature
from labsys.jobs.models import JobRun, Notice, OwedWork
from labsys.journal.models import JournalEntry, JournalHead
from labsys.laboratory.models import Agreement, Capacity, Department, Family, LaboratoryDetail, Place, Tag

__all__ = [
    "Agreement",
    "ApiToken",
    "Authorisation",
    "Capacity",
    "Department",
    "Family",
    "JobRun",
    "JournalEntry",
    "JournalHead",
    "LaboratoryDetail",
    "Notice",
    "OwedWork",
    "Person",
    "Place",
    "Signature",
    "Tag",
]
