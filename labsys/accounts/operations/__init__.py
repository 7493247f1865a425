"""The door of acts on people: what stands here may be called from outside."""

from __future__ import annotations

from labsys.accounts.operations.authorisations import (
    AccountClosed,
    Grant,
    LapsesBeforeItBegins,
    NotHeld,
    authorise,
    withdraw_authorisation,
)
from labsys.accounts.operations.entrance import (
    NoSecondFactor,
    NotSignedIn,
    WayIn,
    change_settings,
    end_sign_ins,
    offer_way_in,
    record_second_factor,
    set_password,
    take_off_second_factor,
)
from labsys.accounts.operations.people import (
    NobodyLeft,
    OwnAccount,
    PersonData,
    change_person,
    deactivate,
    reactivate,
    register_person,
    set_roles,
)
from labsys.accounts.operations.signing import (
    ProofTooOld,
    SignInProof,
    TooManyTries,
    WrongPassword,
    sign,
    sign_in_again,
)
from labsys.accounts.operations.tokens import (
    TokenNotYours,
    TokenRevoked,
    hash_of_token,
    issue_token,
    note_use,
    revoke_token,
)

__all__ = [
    "AccountClosed",
    "Grant",
    "LapsesBeforeItBegins",
    "NoSecondFactor",
    "NobodyLeft",
    "NotHeld",
    "NotSignedIn",
    "OwnAccount",
    "PersonData",
    "ProofTooOld",
    "SignInProof",
    "TokenNotYours",
    "TokenRevoked",
    "TooManyTries",
    "WayIn",
    "WrongPassword",
    "authorise",
    "change_person",
    "change_settings",
    "deactivate",
    "end_sign_ins",
    "hash_of_token",
    "issue_token",
    "note_use",
    "offer_way_in",
    "reactivate",
    "record_second_factor",
    "register_person",
    "revoke_token",
    "set_password",
    "set_roles",
    "sign",
    "sign_in_again",
    "take_off_second_factor",
    "withdraw_authorisation",
]
