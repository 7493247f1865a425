"""Acts on the inventory: models and limits, gauges and their state, custody, sets and pairs, photos, imports."""

from instruments.inventory.operations.custody import Condition, record_custody
from instruments.inventory.operations.evidence import add_custody_photos
from instruments.inventory.operations.gauges import GaugeData, change_gauge, register_gauge, register_gauges
from instruments.inventory.operations.limits import LimitsData, set_limits, withdraw_limits
from instruments.inventory.operations.models import ModelData, change_model, register_model
from instruments.inventory.operations.photos import remove_photo, set_photo
from instruments.inventory.operations.sets import add_member, pair, unpair, withdraw_member
from instruments.inventory.operations.sheets import confirm_sheet, discard_sheet, keep_sheet
from instruments.inventory.operations.states import change_state

__all__ = [
    "Condition",
    "LimitsData",
    "keep_sheet",
    "discard_sheet",
    "confirm_sheet",
    "set_photo",
    "remove_photo",
    "register_gauges",
    "GaugeData",
    "ModelData",
    "add_custody_photos",
    "add_member",
    "change_gauge",
    "change_model",
    "change_state",
    "pair",
    "record_custody",
    "register_gauge",
    "register_model",
    "set_limits",
    "unpair",
    "withdraw_limits",
    "withdraw_member",
]
