"""Components from geometry against the exact effect averaged over all angles."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from scipy.integrate import quad

from labsys.metrology.components import BadComponent, Component, Distribution
from labsys.metrology.evaluation import evaluate
from labsys.metrology.inputs import PointInputs
from labsys.metrology.propagation import Factor, Function, Input, Model, Order, Term, propagate
from labsys.metrology.specs.base import Spec
from labsys.metrology.specs.forms import spec_to_json
from labsys.metrology.specs.general import Constant
from labsys.metrology.specs.geometry import Alignment, Contact, Parallelism
from labsys.metrology.views import View


def at(length_mm: float) -> PointInputs:
    return PointInputs(
        length_mm=length_mm, reading_half_width_mm=0.005, alpha_mean_per_k=11.5e-6, temperature_c=20.0
    )


def root_mean_square(effect: Callable[[float], float], half_width: float) -> float:
    """Average the exact effect over a rectangular input, bias included."""
    return math.sqrt(quad(lambda x: effect(x) ** 2, -half_width, half_width)[0] / (2 * half_width))


@pytest.mark.parametrize("half_width", [0.001, 0.02, 0.1])
def test_askew_by_an_angle(half_width: float) -> None:
    (found,) = Alignment(name="askew", half_width_rad=half_width).components(at(300))
    exact = root_mean_square(lambda theta: 300 * (1 - math.cos(theta)), half_width)
    assert found.contribution_mm == pytest.approx(exact, rel=1e-3)
    assert found.distribution is Distribution.PRODUCT  # it lends its shape to no coverage factor


@pytest.mark.parametrize(("bore", "apart"), [(5.0, 0.2), (10.0, 1.0), (30.0, 0.3)])
def test_a_bore_read_along_a_chord(bore: float, apart: float) -> None:
    (found,) = Contact(name="edges", apart_mm=apart).components(at(bore))
    exact = root_mean_square(lambda t: math.sqrt(bore**2 - t**2) - bore, apart)
    assert found.contribution_mm == pytest.approx(exact, rel=5e-3)


def test_second_order_of_the_model_gives_the_spread_alone() -> None:
    # L·cos θ at θ = 0 by the note to 5.1.2: L·u²/√2 of a normal θ; its mean is off by −L·u²/2.
    model = Model((Term(300.0, (Factor("θ", function=Function.COS),)),))
    found = propagate(model, [Input(Component("θ", 0.01, Distribution.NORMAL))])
    assert found.order is Order.SECOND
    assert found.u == pytest.approx(300 * 1e-4 / math.sqrt(2))
    assert found.shift == pytest.approx(-300 * 1e-4 / 2)


def test_half_of_the_accepted_spread() -> None:
    # The worked caliper budget: accepted up to 10 µm, ±5 µm, u = 2.887 µm.
    (found,) = Parallelism(name="jaws", spread_mm=0.010).components(at(25))
    assert found.contribution_mm * 1000 == pytest.approx(2.887, abs=5e-4)


@pytest.mark.parametrize(
    ("spec", "length_mm"),
    [
        (Alignment(name="askew", half_width_rad=0.11), 300.0),
        (Alignment(name="askew", half_width_rad=math.nan), 300.0),
        (Contact(name="edges", apart_mm=1.0), 9.0),
        (Contact(name="edges", apart_mm=math.inf), 9.0),
        (Parallelism(name="jaws", spread_mm=-0.01), 25.0),
    ],
)
def test_shapes_beyond_the_formula_are_refused(spec: Spec, length_mm: float) -> None:
    with pytest.raises(BadComponent, match=spec.name):
        spec.components(at(length_mm))


def test_they_are_the_gauges_own_and_closed_faces_touch_no_bore() -> None:
    specs = (
        Constant(name="one", size_mm=0.001),
        Contact(name="edges", apart_mm=0.2),
        Parallelism(name="jaws", spread_mm=0.01),
    )
    views = evaluate(specs, at(10))
    assert [row.component.name for row in views.calibration.rows] == ["one", "edges", "jaws"]
    assert [row.component.name for row in views.of(View.TEST_VALUE).rows] == ["one"]
    assert Contact(name="edges", apart_mm=0.2).components(at(0)) == ()


def test_their_stored_form() -> None:
    assert spec_to_json(Contact(name="edges", apart_mm=0.2)) == {
        "kind": "contact",
        "name": "edges",
        "apart_mm": "0.2",
    }
