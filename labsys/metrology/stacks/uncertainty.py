"""The uncertainty of a stack's length.

Lives here: what its blocks and joints add. May not live here: what a point measured on it adds besides.
"""

from __future__ import annotations

from typing import Final

from labsys.errors import LabError
from labsys.metrology.budget import Budget, combine
from labsys.metrology.coverage import DEFAULT_PROBABILITY, FreedomRule
from labsys.metrology.inputs import PointInputs
from labsys.metrology.specs.standards import StandardValue, Wringing
from labsys.metrology.stacks.blocks import Stack

USUAL_WRINGING_MM: Final = 0.00005
"""Half-width of the film in one wrung joint, 0.05 µm (common practice, no source; 0.025 µm for fine surfaces)."""


class BlockWithoutUncertainty(LabError, ValueError):
    """A block of which neither U nor a limit is known."""

    code = "block-without-uncertainty"
    sentence = (
        "Expected an uncertainty or a grade limit for every block of the stack, found none for {identities}. Give U "
        "from the certificate, or the limit of the grade."
    )


def stack_budget(
    stack: Stack,
    *,
    wringing_mm: float = USUAL_WRINGING_MM,
    probability: float = DEFAULT_PROBABILITY,
    freedom_rule: FreedomRule = FreedomRule.TRUNCATE,
) -> Budget:
    """Combine the blocks' values and the joints, each joint rectangular with half-width ``wringing_mm``.

    Blocks of one certificate add linearly (r = 1), blocks at a grade limit and joints are independent, as in every
    budget of a point. Temperature isn't in it. Raises BlockWithoutUncertainty, BadComponent.
    """
    bare = [block.identity for block in stack.blocks if not block.has_uncertainty]
    if bare:
        raise BlockWithoutUncertainty(identities=", ".join(bare[:3]))
    inputs = PointInputs(
        length_mm=stack.nominal_mm,
        reading_half_width_mm=0.0,
        alpha_mean_per_k=0.0,
        temperature_c=20.0,
        references=tuple(block.reference for block in stack.blocks),
        joints=stack.joints,
    )
    specs = (StandardValue(name="block"), Wringing(name="wringing", half_width_mm=wringing_mm))
    components = [one for spec in specs for one in spec.components(inputs)]
    return combine(
        components, probability=probability, freedom_rule=freedom_rule, where=f"the stack {stack.words}"
    )
