"""``temperature``: lengths carried to 20 °C, corrections with their uncertainty, soaking, wrong sensors.

Fields:
    ask: length_at_20, correction, soak or wrong_sensor
    length: a length (mm); for soak only with within
    material, standard_material: of the gauge or piece, and of the standard, to take the coefficient from: steel,
        martensitic stainless steel, austenitic stainless steel, tungsten carbide, chromium carbide, zirconia ceramic,
        grey cast iron, granite, aluminium, brass, copper, titanium alloy, silicon, 36 % nickel-iron, soda-lime glass
        or fused silica (steel)
    alpha, standard_alpha: the coefficient itself in 1e-6/K, in place of a material
    temperature, standard_temperature: in °C (20; that of the standard as that of the gauge)
    u_temperature, u_difference: correction: standard uncertainties of the standard's temperature and of the gauge's
        difference from it, in K (0)
    u_alpha, u_standard_alpha: correction: standard uncertainties of the coefficients, in 1e-6/K (0)
    shape: soak: bar or cylinder, long, of steel, in still air
    width, height: soak: the section of a bar, lengths
    diameter: soak: of a cylinder, a length
    gap, left: soak: kelvin between piece and room, and how much of it may be left (0.1)
    within: soak: in place of left, the change of length that may be left, a length
    too_high, standard_too_high: wrong_sensor: what each sensor showed too much, in K (0)
    is_corrected: wrong_sensor: whether the error was corrected for temperature, true or false

Answers:
    length_at_20: length (mm), per_kelvin_um and per_kelvin_nm (L·α), alpha (1e-6/K) and alpha_source
    correction: correction and u (mm), correction_um and u_um, components with name and u_um, alpha, standard_alpha
    soak: time_constant_min, needed_min, left (K)
    wrong_sensor: change (mm, to be added to the error), change_um, effect_before_um, effect_after_um
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from enum import StrEnum

from labsys.metrology.error import Temperatures
from labsys.metrology.expansion import EXPANSIONS, Material
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields
from labsys.metrology.temperature import gap_allowed, length_at_20, soak_of_bar, soak_of_cylinder
from labsys.metrology.thermal import SensorErrors, ThermalDoubt, sensor_change, thermal_correction

PPM = 1e-6


class Ask(StrEnum):
    """What is asked of a temperature."""

    LENGTH_AT_20 = "length_at_20"
    CORRECTION = "correction"
    SOAK = "soak"
    WRONG_SENSOR = "wrong_sensor"


class Shape(StrEnum):
    """Sections that a soak is estimated for."""

    BAR = "bar"
    CYLINDER = "cylinder"


def answer(fields: Fields) -> Answer:
    """Answer one of the four; raises QuestionUnreadable, TemperatureOutOfReach, BadComponent."""
    return _ASKED[fields.one_of("ask", Ask)](fields)


def _length_at_20(fields: Fields) -> Answer:
    length, temperature = float(fields.length("length")), fields.number("temperature", 20)
    alpha, source = _alpha(fields)
    fields.finish()
    at_20 = length_at_20(length, temperature, float(alpha))
    per_kelvin = length * float(alpha)
    values = {
        "length": at_20,
        "per_kelvin_um": per_kelvin * 1e3,
        "per_kelvin_nm": per_kelvin * 1e6,
        "alpha": alpha.scaleb(6),
        "alpha_source": source,
    }
    return Answer(values, (Step("L/(1 + α·(t − 20))", at_20),), ("ISO 1",))


def _correction(fields: Fields) -> Answer:
    length, temperatures = fields.length("length"), _temperatures(fields)
    doubt = ThermalDoubt(
        standard_k=fields.number("u_temperature", 0, at_least=0.0),
        difference_k=fields.number("u_difference", 0, at_least=0.0),
        alpha_instrument_per_k=fields.number("u_alpha", 0, at_least=0.0) * PPM,
        alpha_standard_per_k=fields.number("u_standard_alpha", 0, at_least=0.0) * PPM,
    )
    fields.finish()
    found = thermal_correction(length, temperatures, doubt)
    values = {
        "correction": found.correction_mm,
        "correction_um": found.correction_mm.scaleb(3),
        "u": found.u_mm,
        "u_um": found.u_mm * 1e3,
        "components": [{"name": one.name, "u_um": one.contribution_mm * 1e3} for one in found.components],
        "alpha": temperatures.alpha_instrument_per_k.scaleb(6),
        "standard_alpha": temperatures.alpha_standard_per_k.scaleb(6),
    }
    step = Step("L·(α_i·(t_i − 20) − α_s·(t_s − 20)), added to reading minus reference", found.correction_mm)
    return Answer(values, (step,), ("ISO 1", "JCGM 100:2008, 5.1.2 and H.1"))


def _soak(fields: Fields) -> Answer:
    gap = fields.number("gap")
    left = fields.number("left", "0.1", above=0.0)
    if fields.has("within"):
        length = float(fields.length("length"))
        left = gap_allowed(length, float(_alpha(fields)[0]), within_mm=float(fields.length("within")))
    if fields.one_of("shape", Shape) is Shape.BAR:
        width, height = float(fields.length("width")), float(fields.length("height"))
        found = soak_of_bar(width, height, gap_k=gap, left_k=left)
    else:
        found = soak_of_cylinder(float(fields.length("diameter")), gap_k=gap, left_k=left)
    fields.finish()
    values = {"time_constant_min": found.time_constant_min, "needed_min": found.needed_min, "left": left}
    steps = (
        Step("time constant ρ·c·(V/A)/h of steel in still air, in minutes", found.time_constant_min),
        Step("time constants · ln(gap/left)", found.needed_min),
    )
    return Answer(values, steps, ("estimate of common practice: 7850 kg/m³, 480 J/(kg·K), 10 W/(m²·K)",))


def _wrong_sensor(fields: Fields) -> Answer:
    length, shown = fields.length("length"), _temperatures(fields)
    off = SensorErrors(fields.decimal("too_high", 0), fields.decimal("standard_too_high", 0))
    is_corrected = fields.flag("is_corrected")
    fields.finish()
    found = sensor_change(length, shown, off, is_corrected=is_corrected)
    values = {
        "change": found.change_mm,
        "change_um": found.change_mm.scaleb(3),
        "effect_before_um": found.effect_before_mm.scaleb(3),
        "effect_after_um": found.effect_after_mm.scaleb(3),
    }
    steps = (
        Step("thermal effect as taken, µm", values["effect_before_um"]),
        Step("thermal effect with the true temperatures, µm", values["effect_after_um"]),
    )
    return Answer(
        values, steps, ("error of indication with temperatures at 20 °C (ISO 1), worked out again",)
    )


def _temperatures(fields: Fields) -> Temperatures:
    gauge = fields.decimal("temperature", 20)
    standard = fields.decimal("standard_temperature", gauge)
    return Temperatures(gauge, standard, _alpha(fields)[0], _alpha(fields, "standard_")[0])


def _alpha(fields: Fields, whose: str = "") -> tuple[Decimal, str]:
    """Read a coefficient in 1/K and where it is from."""
    table = EXPANSIONS[fields.one_of(f"{whose}material", Material, Material.STEEL)]
    if fields.has(f"{whose}alpha"):
        return fields.decimal(f"{whose}alpha").scaleb(-6), "given"
    return table.per_k, table.source


_ASKED: Mapping[Ask, Callable[[Fields], Answer]] = {
    Ask.LENGTH_AT_20: _length_at_20,
    Ask.CORRECTION: _correction,
    Ask.SOAK: _soak,
    Ask.WRONG_SENSOR: _wrong_sensor,
}
