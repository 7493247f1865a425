"""Acts on a thermometer's log: a file of it, or readings that a program sends."""

from __future__ import annotations

from standards.climate.operations.logging import (
    MOST_AT_ONCE,
    LogReadingsTooMany,
    NoThermometer,
    log_file,
    log_readings,
)

__all__ = ["MOST_AT_ONCE", "LogReadingsTooMany", "NoThermometer", "log_file", "log_readings"]
