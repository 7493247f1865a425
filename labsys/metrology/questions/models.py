"""Reading a model and its inputs out of a question.

Lives here: the forms of inputs, terms and correlations. May not live here: what is done with them (the kinds).
"""

from __future__ import annotations

from typing import Any

from labsys.metrology.components import Component, Distribution
from labsys.metrology.propagation import (
    Correlation,
    Factor,
    Function,
    Input,
    Model,
    Term,
    correlation_of_readings,
    linear,
    mean_of_readings,
    of_pairs,
)
from labsys.metrology.questions.fields import Fields, refuse

SIZES = ("u", "U", "half_width", "readings")


def read_inputs(question: Fields) -> tuple[list[Input], Model, Correlation]:
    """Read ``inputs``, ``model`` or sensitivities, ``correlations`` and ``read_together``.

    Raises QuestionUnreadable, and what the inputs, the model or the correlation refuse.
    """
    each = question.objects("inputs")
    inputs = [_input(one) for one in each]
    readings = {
        found.name: one.numbers("readings")
        for found, one in zip(inputs, each, strict=True)
        if one.has("readings")
    }
    model = _model(question, each)
    correlation = _correlation(question, readings)
    for one in each:
        one.finish()
    return inputs, model, correlation


def _input(one: Fields) -> Input:
    name, source = one.text("name"), one.text("source", "")
    given = [size for size in SIZES if one.has(size)]
    if len(given) != 1:
        raise refuse(one.place, "one of " + ", ".join(SIZES), " and ".join(given) or "none of them")
    if given == ["readings"]:
        return mean_of_readings(name, one.numbers("readings"), source=source)
    is_expanded = given == ["U"]
    usual = Distribution.RECTANGULAR if given == ["half_width"] else Distribution.NORMAL
    distribution = one.one_of("distribution", Distribution, usual)
    component = Component(
        name,
        one.number(given[0], at_least=0.0),
        distribution,
        nu=one.freedom("nu"),
        source=source,
        divisor=one.number("k", above=0.0) if is_expanded else 1.0 if given == ["u"] else None,
        beta=one.number("beta") if one.has("beta") else None,
    )
    return Input(component, one.number("estimate", 0.0))


def _model(question: Fields, each: list[Fields]) -> Model:
    if question.has("model"):
        return Model(tuple(_term(one) for one in question.objects("model")))
    constant = question.number("constant", 0.0)
    return linear({one.text("name"): one.number("sensitivity", 1.0) for one in each}, constant=constant)


def _term(one: Fields) -> Term:
    factors = tuple(
        _factor(found, f"{one.at('factors')}[{place}]")
        for place, found in enumerate(one.items("factors", []))
    )
    term = Term(one.number("coefficient", 1.0), factors)
    one.finish()
    return term


def _factor(found: Any, place: str) -> Factor:
    if isinstance(found, str):
        return Factor(found)
    one = Fields(found, place)
    function = one.one_of("function", Function, Function.IDENTITY)
    factor = Factor(one.text("input"), one.number("power", 1.0), function)
    one.finish()
    return factor


def _correlation(question: Fields, readings: dict[str, list[float]]) -> Correlation:
    pairs: dict[tuple[str, str], float] = {}
    for one in question.objects("correlations", []):
        between = one.texts("between")
        if len(between) != 2:
            raise refuse(one.at("between"), "the names of two inputs", between)
        pairs[between[0], between[1]] = one.number("r")
        one.finish()
    together = question.texts("read_together", [])
    for name in together:
        if name not in readings:
            raise refuse(question.at("read_together"), "names of inputs with readings", name)
    found = correlation_of_readings({name: readings[name] for name in together})
    for place, a in enumerate(found.names):
        pairs |= {(a, b): found.r(a, b) for b in found.names[place + 1 :]}
    return of_pairs(pairs)
