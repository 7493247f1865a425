"""A factor's value and its first three derivatives, worked out by rule and not by differences.

Lives here: elementary functions and powers of them. May not live here: models of several inputs (model.py).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from enum import StrEnum
from typing import TypeAlias

from labsys.errors import LabError

Jet: TypeAlias = tuple[float, float, float, float]
"""Value, first, second and third derivative at one place."""

CONSTANT: Jet = (1.0, 0.0, 0.0, 0.0)


class Function(StrEnum):
    """What is done to an input before its power is taken; angles are in radians."""

    IDENTITY = "identity"
    SIN = "sin"
    COS = "cos"
    TAN = "tan"
    EXP = "exp"
    LN = "ln"
    ARCSIN = "arcsin"
    ARCCOS = "arccos"
    ARCTAN = "arctan"


class OutsideDomain(LabError, ValueError):
    """A factor that has no value or no slope at the estimate."""

    code = "outside-domain"
    sentence = (
        "Expected an estimate at which {function} to the power {power:g} has a value and three derivatives, "
        "found {found}. Correct the estimate or the model."
    )


def jet_of(function: Function, power: float, at: float) -> Jet:
    """Give value and derivatives of function(x)^power at x = ``at``; raises OutsideDomain.

    A power of a function follows the chain rule to third order (Faà di Bruno).
    """
    try:
        found = _power(_FUNCTIONS[function](at), power)
    except (ValueError, OverflowError, ZeroDivisionError):
        found = (math.nan,) * 4
    if not all(math.isfinite(one) for one in found):
        raise OutsideDomain(function=function.value, power=power, found=at)
    return found


def multiply(left: Jet, right: Jet) -> Jet:
    """Multiply two functions of the same input (Leibniz's rule)."""
    (a, a1, a2, a3), (b, b1, b2, b3) = left, right
    return (
        a * b,
        a1 * b + a * b1,
        a2 * b + 2 * a1 * b1 + a * b2,
        a3 * b + 3 * a2 * b1 + 3 * a1 * b2 + a * b3,
    )


def _power(inner: Jet, power: float) -> Jet:
    g, g1, g2, g3 = inner
    if power == 1:
        return inner
    if g < 0 and not float(power).is_integer():
        raise ValueError  # Python would go on in complex numbers
    h1, h2, h3 = (_outer(g, power, order) for order in (1, 2, 3))
    return (
        g**power,
        h1 * g1,
        h2 * g1 * g1 + h1 * g2,
        h3 * g1 * g1 * g1 + 3 * h2 * g1 * g2 + h1 * g3,
    )


def _outer(g: float, power: float, order: int) -> float:
    """Give p·(p − 1)·… · g^(p − order); a vanishing factor spares the power, which may not exist at zero."""
    factor = math.prod(power - less for less in range(order))
    return 0.0 if factor == 0 else float(factor * g ** (power - order))


def _identity(x: float) -> Jet:
    return (x, 1.0, 0.0, 0.0)


def _sin(x: float) -> Jet:
    s, c = math.sin(x), math.cos(x)
    return (s, c, -s, -c)


def _cos(x: float) -> Jet:
    s, c = math.sin(x), math.cos(x)
    return (c, -s, -c, s)


def _tan(x: float) -> Jet:
    t = math.tan(x)
    first = 1 + t * t
    return (t, first, 2 * t * first, first * (2 + 6 * t * t))


def _exp(x: float) -> Jet:
    return (math.exp(x),) * 4


def _ln(x: float) -> Jet:
    return (math.log(x), 1 / x, -1 / x**2, 2 / x**3)


def _arcsin(x: float) -> Jet:
    slope = 1 / math.sqrt(1 - x * x)
    return (math.asin(x), slope, x * slope**3, (1 + 2 * x * x) * slope**5)


def _arccos(x: float) -> Jet:
    _, first, second, third = _arcsin(x)
    return (math.acos(x), -first, -second, -third)


def _arctan(x: float) -> Jet:
    slope = 1 / (1 + x * x)
    return (math.atan(x), slope, -2 * x * slope**2, (6 * x * x - 2) * slope**3)


_FUNCTIONS: dict[Function, Callable[[float], Jet]] = {
    Function.IDENTITY: _identity,
    Function.SIN: _sin,
    Function.COS: _cos,
    Function.TAN: _tan,
    Function.EXP: _exp,
    Function.LN: _ln,
    Function.ARCSIN: _arcsin,
    Function.ARCCOS: _arccos,
    Function.ARCTAN: _arctan,
}
