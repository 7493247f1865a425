"""The door of acts on the laboratory's own facts: what stands here may be called from outside."""

from __future__ import annotations

from labsys.laboratory.operations.agreements import (
    AgreementTerms,
    LimitsWithoutSource,
    NothingAgreed,
    agree,
    withdraw_agreement,
)
from labsys.laboratory.operations.facts import (
    DepartmentData,
    FamilyData,
    PlaceData,
    add_department,
    add_family,
    add_place,
    change_department,
    change_family,
    change_place,
)
from labsys.laboratory.operations.settings import set_capacity, set_details
from labsys.laboratory.operations.tags import TagTaken, issue_tag
from labsys.laboratory.operations.validating import record_validation

__all__ = [
    "AgreementTerms",
    "DepartmentData",
    "FamilyData",
    "LimitsWithoutSource",
    "NothingAgreed",
    "PlaceData",
    "TagTaken",
    "add_department",
    "add_family",
    "add_place",
    "agree",
    "change_department",
    "change_family",
    "change_place",
    "issue_tag",
    "record_validation",
    "set_capacity",
    "set_details",
    "withdraw_agreement",
]
