"""Acts of recall, one door each; the modules beside this one hold them by what they are about."""

from instruments.recall.operations.call_ins import (
    BringByInThePast,
    CallInClosed,
    CallInOutcome,
    NothingToCallIn,
    call_in,
    withdraw_call_in,
)
from instruments.recall.operations.custody import (
    NotInLaboratory,
    NotVerified,
    change_state,
    receive,
    release,
)
from instruments.recall.operations.events import (
    CalibratedInTheFuture,
    CalibrationOutcome,
    record_calibration,
)
from instruments.recall.operations.floor import (
    InTheLaboratoryNow,
    NotInYourCare,
    hand_over,
    record_use_check,
    report_damage,
)
from instruments.recall.operations.holds import HoldAlreadyLifted, LiftNotVerified, lift_hold, set_hold
from instruments.recall.operations.intervals import (
    AlreadyExtended,
    ExtensionAfterOutOfTolerance,
    ExtensionBeyondCap,
    ExtensionRefused,
    ExtensionTooLate,
    IntervalStepTooLarge,
    NothingToExtend,
    assign_interval,
    extend,
)
from instruments.recall.operations.masters import pair, part
from instruments.recall.operations.outside import (
    AlreadyDecided,
    NotACertificateFile,
    OutsideData,
    accept_outside_certificate,
    receive_outside_certificate,
    reject_outside_certificate,
)
from instruments.recall.operations.restrictions import (
    NotRestricted,
    RestrictionData,
    UnknownFunctions,
    lift_restriction,
    restrict,
)
from instruments.recall.operations.standing import (
    follow_journal,
    refresh_all,
    refresh_standing,
    refresh_standings,
)

__all__ = [
    "AlreadyDecided",
    "AlreadyExtended",
    "BringByInThePast",
    "CalibratedInTheFuture",
    "CalibrationOutcome",
    "CallInClosed",
    "CallInOutcome",
    "ExtensionAfterOutOfTolerance",
    "ExtensionBeyondCap",
    "ExtensionRefused",
    "ExtensionTooLate",
    "HoldAlreadyLifted",
    "InTheLaboratoryNow",
    "IntervalStepTooLarge",
    "LiftNotVerified",
    "NotACertificateFile",
    "NotInLaboratory",
    "NotInYourCare",
    "NotRestricted",
    "NotVerified",
    "NothingToCallIn",
    "NothingToExtend",
    "OutsideData",
    "RestrictionData",
    "UnknownFunctions",
    "accept_outside_certificate",
    "assign_interval",
    "call_in",
    "change_state",
    "extend",
    "follow_journal",
    "hand_over",
    "lift_hold",
    "pair",
    "part",
    "lift_restriction",
    "receive",
    "receive_outside_certificate",
    "record_calibration",
    "record_use_check",
    "refresh_all",
    "refresh_standing",
    "refresh_standings",
    "reject_outside_certificate",
    "release",
    "report_damage",
    "restrict",
    "set_hold",
    "withdraw_call_in",
]
