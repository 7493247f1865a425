"""``study``: what a measuring system does by itself, from readings taken by a plan.

Fields: ``study``: which: “crossed”, “ranges”, “nested”, “levels”, “one-way”, “bias”, “linearity” or “type-1”.
Fields: ``readings``: plain numbers, all in one unit. Crossed and ranges: a list for each part of a list for each
    appraiser of the trials (other orders by ``order``); nested: for each appraiser, part, trial; levels: for each
    artefact, run, day, repeat; one-way: a list for each group; bias and type-1: one list.
Fields: ``order``: crossed and ranges: how the lists are nested; ["part", "appraiser", "trial"] if left out.
Fields: ``tolerance``: width of the tolerance, in the readings' unit (crossed, ranges, nested: may be left out).
Fields: ``width``: standard deviations that a spread is stated over (crossed, ranges, nested, type-1); 6 if left out.
Fields: ``ndc``: “truncate” (default) or “nearest”: the distinct categories (crossed, ranges, nested).
Fields: ``pooling``: crossed: “by significance” (default), “always” or “never”: the interaction into repeatability.
Fields: ``significance``: crossed: pooled where p is above it; 0.05 if left out.
Fields: ``denominator``: crossed: “interaction” (default) or “repeatability”, for F of the full table.
Fields: ``constants``: ranges: “printed” (four decimals, default) or “computed”.
Fields: ``means``, ``deviations``, ``repeats``: levels: in place of readings, for each artefact, run, day.
Fields: ``reference``: bias and type-1: the value of the reference, in the readings' unit.
Fields: ``references``: linearity: objects with ``reference`` and ``readings``.
Fields: ``process_variation``: linearity: six standard deviations of the process, may be left out.
Fields: ``share``, ``step``: type-1: share of the tolerance (0.2), step of the display (may be left out).
Fields: ``confidence``: of the intervals; 0.95 if left out.
Answers: crossed: ``table`` and ``reduced`` (by source ``ss``, ``df``, ``ms``, ``F``, ``p``, ``tested_against``),
    ``rows`` (by source ``sd``, ``variance``, ``estimate``, ``percent_contribution``, ``percent_study``,
    ``percent_tolerance``), ``ndc``, ``ndc_unrounded``, ``intervals``, the choices made, ``notes``, ``meaning``.
Answers: ranges: ``mean_ranges``, ``mean_range``, ``means``, ``mean_difference``, ``part_range``, ``K1``, ``K2``,
    ``K3``, ``rows`` and what follows them above; nested: as crossed without ``reduced``.
Answers: levels: ``repeatability``, ``day``, ``run`` (each ``s``, ``df``, ``added``), ``single_sd``, ``notes``.
Answers: one-way: ``table``, ``r_squared``, ``residual_sd``, ``between_variance``, ``group_means``.
Answers: bias: ``mean``, ``s``, ``count``, ``bias`` (``value``, ``standard_error``, ``t``, ``df``, ``p``, ``low``,
    ``high``); linearity: ``intercept`` and ``slope`` (as ``bias``), ``s``, ``r_squared``, ``at`` (bias at each
    reference), ``linearity``, ``percent_linearity``, ``zero_line_holds``, ``meaning``.
Answers: type-1: as bias, and ``Cg``, ``Cgk``, ``study_variation``, ``percent_repeatability``, ``percent_with_bias``,
    ``percent_step``, ``meaning``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from enum import StrEnum
from typing import Final

from labsys.metrology.questions.answers import Answer
from labsys.metrology.questions.fields import Fields
from labsys.metrology.questions.study_designs import crossed, levels, nested, one_way_groups, ranges
from labsys.metrology.questions.study_references import bias, linearity, type1


class Study(StrEnum):
    """The studies by the words they have in a file."""

    CROSSED = "crossed"
    RANGES = "ranges"
    NESTED = "nested"
    LEVELS = "levels"
    ONE_WAY = "one-way"
    BIAS = "bias"
    LINEARITY = "linearity"
    TYPE_1 = "type-1"


STUDIES: Final[Mapping[Study, Callable[[Fields], Answer]]] = {
    Study.CROSSED: crossed,
    Study.RANGES: ranges,
    Study.NESTED: nested,
    Study.LEVELS: levels,
    Study.ONE_WAY: one_way_groups,
    Study.BIAS: bias,
    Study.LINEARITY: linearity,
    Study.TYPE_1: type1,
}


def answer(fields: Fields) -> Answer:
    """Answer the study that is named.

    Raises QuestionUnreadable, StudyTooSmall, UnbalancedStudy, NoSpreadSeen, ReadingOutOfReach, BadStudySetting,
    NoConstant.
    """
    return STUDIES[fields.one_of("study", Study)](fields)
