"""``stack``: the fewest gauge blocks that make a length, other ways, and the uncertainty of each.

Fields: ``length``: the length to build, in mm or with its unit, as in “3.9762 in”.
Fields: ``blocks``: the blocks at hand, each an object with the fields below; or ``set`` instead.
Fields: ``blocks.identity``: what the block is called, each its own.
Fields: ``blocks.nominal``: nominal size, in mm or with its unit; exact.
Fields: ``blocks.deviation``: calibrated size minus nominal, in mm or with its unit; 0 if left out.
Fields: ``blocks.certificate``: number of its certificate; blocks of one add linearly; "" if left out.
Fields: ``blocks.U``, ``blocks.k``, ``blocks.nu``: expanded uncertainty (mm or with its unit), its k (2) and degrees of
    freedom (infinite).
Fields: ``blocks.limit``: limit of its grade instead of U, in mm or with its unit.
Fields: ``set``: a usual set at nominal size: “47 mm”, “88 mm”, “112 mm” or “81 in”; then no U comes out.
Fields: ``avoid``: identities not to use; none if left out.
Fields: ``wear``: identities of the wear blocks to put at the ends, at most two; none if left out.
Fields: ``most``: blocks between the ends at the most, 1 to 6; 5 if left out.
Fields: ``alternatives``: how many other stacks to offer; 2 if left out.
Fields: ``nearest_within``: how far to look where no stack is exact, in mm or with its unit; 0.01 mm if left out.
Fields: ``wringing``: half-width of the film in one joint, in mm or with its unit; 0.05 µm if left out.
Fields: ``probability``: of the coverage interval; 0.9545 if left out.
Answers: ``is_exact``, ``sentence``, ``ways`` (stacks as short as the first), ``stacks`` (the best first), ``below`` and
    ``above`` (the nearest where none is exact, or null).
Answers: of each stack ``blocks`` (identities in order), ``sizes``, ``count``, ``joints``; in mm ``nominal``,
    ``deviation``, ``length``, ``u`` and ``U`` (null where a block has none), and ``k``.
"""

from __future__ import annotations

from decimal import Decimal

from labsys.metrology.coverage import DEFAULT_PROBABILITY
from labsys.metrology.questions.answers import Answer, Step
from labsys.metrology.questions.fields import Fields
from labsys.metrology.stacks.blocks import Block, Stack
from labsys.metrology.stacks.building import build_stack
from labsys.metrology.stacks.rules import USUAL_MOST, StackRules
from labsys.metrology.stacks.sets import blocks_of_set
from labsys.metrology.stacks.uncertainty import USUAL_WRINGING_MM, stack_budget
from labsys.metrology.units import Unit, from_mm


def answer(fields: Fields) -> Answer:
    """Build the length; raises QuestionUnreadable, BadLength, BadBlock, BlocksUnusable, NoSuchSet, BadComponent."""
    length_mm = fields.length("length")
    blocks = _blocks(fields)
    rules = StackRules(
        most=fields.count("most", USUAL_MOST),
        avoid=tuple(fields.texts("avoid", [])),
        ends=tuple(fields.texts("wear", [])),
        alternatives=fields.count("alternatives", 2),
        nearest_within_mm=fields.length("nearest_within", "0.01"),
    )
    wringing = float(fields.length("wringing", Decimal(repr(USUAL_WRINGING_MM))))
    probability = fields.probability("probability", DEFAULT_PROBABILITY)
    fields.finish()
    found = build_stack(length_mm, blocks, rules)
    told = [_told(stack, wringing, probability) for stack in found.stacks]
    below, above = (one and _told(one, wringing, probability) for one in (found.below, found.above))
    return Answer(
        values={
            "is_exact": found.is_exact,
            "sentence": found.sentence,
            "ways": found.ways,
            "stacks": told,
            "below": below,
            "above": above,
        },
        steps=(
            Step("all stacks of fewer blocks searched, sizes in whole picometres", found.sentence),
            Step("u² = (Σ u of one certificate)² + … + joints · (film/√3)²", [one["U"] for one in told]),
        ),
        sources=(
            "JCGM 100:2008, 5.2.2",
            "common practice, no source: fewest blocks, then the thickest thinnest one",
        ),
    )


def _blocks(fields: Fields) -> tuple[Block, ...]:
    if fields.has("set"):
        return blocks_of_set(fields.text("set"))
    return tuple(_block(one) for one in fields.objects("blocks"))


def _block(fields: Fields) -> Block:
    nominal_mm, given = fields.length("nominal"), fields.raw("nominal")
    unit = Unit.IN if isinstance(given, str) and given.strip().endswith(f" {Unit.IN.value}") else Unit.MM
    block = Block(
        identity=fields.text("identity"),
        nominal=from_mm(nominal_mm, unit),
        unit=unit,
        deviation_mm=fields.length("deviation", "0"),
        certificate=fields.text("certificate", ""),
        U_mm=float(fields.length("U", "0")),
        k=fields.number("k", 2, above=0.0),
        nu=fields.freedom("nu"),
        limit_mm=float(fields.length("limit")) if fields.has("limit") else None,
    )
    fields.finish()
    return block


def _told(stack: Stack, wringing_mm: float, probability: float) -> dict[str, object]:
    known = all(block.has_uncertainty for block in stack.blocks)
    budget = stack_budget(stack, wringing_mm=wringing_mm, probability=probability) if known else None
    return {
        "blocks": [block.identity for block in stack.blocks],
        "sizes": stack.words,
        "count": len(stack.blocks),
        "joints": stack.joints,
        "nominal": stack.nominal_mm,
        "deviation": stack.deviation_mm,
        "length": stack.length_mm,
        "U": budget and budget.U_mm,
        "k": budget and budget.k,
        "u": budget and budget.u_mm,
    }
