"""Acts of the bench, one module per stretch of the way: opening, arrivals, stages, handing in, review."""

from instruments.measuring.operations.arrivals import (
    deposit,
    deposit_all,
    resolve_set_aside,
    settle,
    settle_leftovers,
    take,
)
from instruments.measuring.operations.cabling import check_cable
from instruments.measuring.operations.granting import grant_bench
from instruments.measuring.operations.opening import open_session, void_session
from instruments.measuring.operations.photos import PhotoData, add_photos
from instruments.measuring.operations.points import add_point, plan_missing, retake_point, void_point
from instruments.measuring.operations.reviewing import (
    accept_deviation,
    approve,
    return_submission,
    strike_for_review,
)
from instruments.measuring.operations.sitting import SatDown, sit_down
from instruments.measuring.operations.soaking import go_on_early, note_laid
from instruments.measuring.operations.stages import AdjustmentData, begin_as_left
from instruments.measuring.operations.submitting import submit

__all__ = [
    "AdjustmentData",
    "PhotoData",
    "SatDown",
    "accept_deviation",
    "add_photos",
    "add_point",
    "plan_missing",
    "approve",
    "begin_as_left",
    "check_cable",
    "deposit",
    "deposit_all",
    "go_on_early",
    "grant_bench",
    "note_laid",
    "open_session",
    "resolve_set_aside",
    "retake_point",
    "return_submission",
    "settle",
    "sit_down",
    "settle_leftovers",
    "strike_for_review",
    "submit",
    "take",
    "void_point",
    "void_session",
]
