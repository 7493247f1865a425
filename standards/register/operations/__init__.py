"""Acts on the register: standards, their elements and service states, calibrations and their acceptance."""

from __future__ import annotations

from standards.register.operations.calibrations import (
    AlreadyDecided,
    CalibratedInTheFuture,
    mark_accepted,
    mark_rejected,
    record_calibration,
)
from standards.register.operations.elements import (
    ElementData,
    NominalStands,
    NothingChanged,
    NotInUse,
    UnknownFunction,
    add_element,
    change_element,
    restore_element,
    withdraw_element,
)
from standards.register.operations.standards import (
    StandardData,
    change_standard,
    register_standard,
)
from standards.register.operations.states import (
    NothingToReturnWith,
    ReasonMissing,
    ReturnNeedsVerification,
    StateNotReachable,
    change_state,
    enter_service,
    return_to_service,
)
from standards.register.values import (
    DeviationImplausible,
    ElementOfAnotherStandard,
    ElementTwice,
    NoValues,
    UncertaintyMissing,
    ValueData,
    ValueRefused,
    ValueTooFine,
)

__all__ = [
    "AlreadyDecided",
    "CalibratedInTheFuture",
    "DeviationImplausible",
    "ElementData",
    "ElementOfAnotherStandard",
    "ElementTwice",
    "NoValues",
    "NominalStands",
    "NotInUse",
    "NothingChanged",
    "NothingToReturnWith",
    "ReasonMissing",
    "ReturnNeedsVerification",
    "StandardData",
    "StateNotReachable",
    "UncertaintyMissing",
    "UnknownFunction",
    "ValueData",
    "ValueRefused",
    "ValueTooFine",
    "add_element",
    "change_element",
    "change_standard",
    "change_state",
    "enter_service",
    "mark_accepted",
    "mark_rejected",
    "record_calibration",
    "register_standard",
    "restore_element",
    "return_to_service",
    "withdraw_element",
]
