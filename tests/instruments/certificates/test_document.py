"""The document as data: its canonical text, reading it back, and what it must hold by the published list."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from instruments.certificates.document import Document, DocumentUnreadable, dump, load, missing_items, parts
from labsys.metrology.units import Unit
from tests.instruments.certificates import samples

GOLDEN = Path(__file__).parents[2] / "golden"
PUBLISHED = json.loads((GOLDEN / "published" / "report-content.json").read_text(encoding="utf-8"))
APPLICABLE = {item["number"]: item["item"] for item in PUBLISHED["items"] if "not_here" not in item}
FROZEN = GOLDEN / "frozen" / "certificate-format-1.json"


def test_the_samples_are_complete() -> None:
    assert missing_items(samples.document()) == ()
    assert missing_items(samples.one_set()) == ()
    assert missing_items(samples.one_set(Unit.IN)) == ()
    assert missing_items(samples.rejected_at_sight()) == ()


@pytest.mark.parametrize("make", [samples.document, samples.one_set, samples.rejected_at_sight])
def test_text_and_document_are_the_same_thing(make: Callable[[], Document]) -> None:
    document = make()
    assert load(dump(document)) == document
    assert dump(load(dump(document))) == dump(document)


def test_a_document_of_format_1_is_read_for_ever() -> None:
    text = FROZEN.read_text(encoding="utf-8")
    document = load(text)
    assert dump(document) == text
    assert (document.number, document.item.tag, len(document.stages)) == ("CAL-00042", "C-0117", 2)
    assert document.stages[0].lines[4].error_mm == Decimal("0.0399")


def _broken(change: Callable[[dict[str, Any]], None]) -> str:
    stored = json.loads(dump(samples.document()))
    change(stored)
    return json.dumps(stored)


@pytest.mark.parametrize(
    ("change", "place"),
    [
        (lambda d: d.pop("number"), "number"),
        (lambda d: d["item"].pop("serial"), "item.serial"),
        (lambda d: d["item"].update(colour="red"), "item.colour"),
        (lambda d: d["stages"][0]["lines"][2].update(error_mm="far"), "stages[0].lines[2].error_mm"),
        (lambda d: d["stages"][0]["lines"][2].update(number="3"), "stages[0].lines[2].number"),
        (lambda d: d["method"].update(revision=True), "method.revision"),
        (lambda d: d.update(issued_on="yesterday"), "issued_on"),
        (lambda d: d.update(standards={}), "standards"),
        (lambda d: d.update(place_is_laboratory="yes"), "place_is_laboratory"),
        (lambda d: d.update(format=3), "format"),
        (lambda d: d.update(format="2"), "format"),
    ],
)
def test_a_damaged_document_names_the_place(change: Callable[[dict[str, Any]], None], place: str) -> None:
    with pytest.raises(DocumentUnreadable) as refused:
        load(_broken(change))
    assert refused.value.data["place"] == place


def test_a_document_of_format_1_reads_as_it_was_meant() -> None:
    stored = json.loads(dump(samples.document()))
    stored["format"] = 1
    for stage in stored["stages"]:
        for line in stage["lines"]:
            for name in ("kind", "name", "step"):
                del line[name]
    found = load(json.dumps(stored))
    assert found == replace(samples.document(), format=1)
    assert json.loads(dump(found)) == stored


def test_no_json_and_no_object_are_refused() -> None:
    for text in ("{", "[1]", '"CAL-1"'):
        with pytest.raises(DocumentUnreadable):
            load(text)


Change = Callable[[Document], Document]


def _part(which: str, /, **changes: Any) -> Change:
    """Change fields of one part of the document."""
    return lambda d: replace(d, **{which: replace(getattr(d, which), **changes)})


def _whole(**changes: Any) -> Change:
    return lambda d: replace(d, **changes)


def _line(**changes: Any) -> Change:
    """Change the third result."""

    def change(d: Document) -> Document:
        first = d.stages[0]
        lines = (*first.lines[:2], replace(first.lines[2], **changes), *first.lines[3:])
        return replace(d, stages=(replace(first, lines=lines), *d.stages[1:]))

    return change


def _printed(**changes: Any) -> Change:
    return lambda d: _line(printed=replace(d.stages[0].lines[2].printed, **changes))(d)


def _standard(**changes: Any) -> Change:
    return lambda d: replace(d, standards=(replace(d.standards[0], **changes), *d.standards[1:]))


def _signers(*meanings: str) -> Change:
    return lambda d: replace(d, signers=tuple(s for s in d.signers if s.meaning in meanings))


def _alone(d: Document) -> Document:
    performed, authorised = d.signers
    return replace(d, signers=(performed, replace(authorised, person=performed.person)))


FAULTS: dict[int, tuple[Change, ...]] = {
    1: (_whole(title="Test report"),),
    2: (_part("laboratory", name=""), _part("laboratory", address="  ")),
    3: (_whole(place=""),),
    4: (_whole(number=""), _whole(verification_url="")),
    5: (_part("customer", name=""), _part("customer", contact="")),
    6: (_part("method", code=""), _part("method", revision=0)),
    7: (
        _part("item", tag=""),
        _part("item", maker=""),
        _part("item", model=""),
        _part("item", serial=""),
        _part("receipt", condition=""),
    ),
    8: (lambda d: _part("receipt", received_on=d.calibrated_from + timedelta(days=1))(d),),
    9: (lambda d: _whole(calibrated_to=d.calibrated_from - timedelta(days=1))(d),),
    10: (lambda d: _whole(issued_on=d.calibrated_to - timedelta(days=1))(d),),
    12: (_part("statements", relates_only=""),),
    13: (
        _whole(stages=()),
        _part("item", unit=""),
        _part("statements", sign=""),
        _part("statements", measurand=""),
        _line(place=""),
        _line(number=99),
        _printed(error=""),
    ),
    14: (lambda d: _whole(deviations=(replace(d.deviations[0], reason=""),))(d),),
    15: (_signers("performed"), _signers("authorised"), _alone),
    17: (_part("statements", reproduction=""),),
    18: (_whole(customer_data=()), _whole(customer_data=("",))),
    19: (
        _line(U_mm=Decimal(0)),
        _line(k=Decimal(0)),
        _printed(U="0.00643"),
        _part("uncertainty", basis=""),
        _part("uncertainty", coverage=()),
        lambda d: _part(
            "uncertainty",
            coverage=(replace(d.uncertainty.coverage[0], results=d.uncertainty.coverage[0].results[1:]),),
        )(d),
    ),
    20: (
        _part("conditions", temperature_low_c=Decimal("20.4")),
        _part("conditions", soak=""),
        _part("conditions", expansion=""),
        _part("conditions", reference="All values refer to the room."),
    ),
    21: (
        _whole(standards=()),
        _standard(certificate=""),
        _standard(issuer=""),
        _standard(tag="another"),
        _line(standards=("GB-99",)),
        _part("statements", traceability=""),
    ),
    22: (
        lambda d: replace(d, stages=d.stages[:1]),
        lambda d: replace(d, stages=d.stages[1:]),
        lambda d: replace(d, adjustments=()),
    ),
    23: (
        _whole(conformity=None),
        _part("conformity", rule=""),
        _part("conformity", specification=""),
        _part("conformity", risk=""),
        _part("conformity", covers=""),
        _part("conformity", findings=()),
        _part("conformity", specification="Plant instruction Q-07"),
        _line(lower_mm=None, upper_mm=None),
        _line(U_used_mm=None),
    ),
    25: (_standard(due_on=date(2026, 11, 24)), _standard(calibrated_on=date(2026, 11, 25))),
    26: (lambda d: _whole(due=replace(d.due, agreement=""))(d) if d.due else d,),
    28: (_whole(replaces=parts.Replaces("CAL-00041", "", "typing error")),),
    29: (_part("receipt", damaged=True, departure=""),),
    30: (_part("statements", limited=""),),
}


def test_every_published_item_is_checked() -> None:
    """The list of faults below is the published list, and the program's own list names nothing else."""
    assert FAULTS.keys() == APPLICABLE.keys()
    assert len(PUBLISHED["items"]) == 30


@pytest.mark.parametrize(
    ("number", "fault"), [(number, fault) for number, faults in FAULTS.items() for fault in faults]
)
def test_an_item_taken_away_is_missed(number: int, fault: Change) -> None:
    named = missing_items(fault(samples.document()))
    assert any(item.startswith(f"{number} ") for item in named), (number, APPLICABLE[number], named)


def test_one_person_is_enough_where_the_decision_is_said() -> None:
    decided = _part("statements", one_signature="By its decision of 2026-01-05.")
    assert missing_items(decided(_alone(samples.document()))) == ()


def test_two_people_of_one_name_are_two() -> None:
    document = samples.document()
    performed, authorised = document.signers
    namesakes = replace(document, signers=(performed, replace(authorised, name=performed.name)))
    assert missing_items(namesakes) == ()


def test_no_results_are_excused_only_by_a_rejection() -> None:
    rejected = samples.rejected_at_sight()
    named = missing_items(replace(rejected, rejections=()))
    assert any(item.startswith("13 ") for item in named)


def test_nothing_says_that_it_complies() -> None:
    """Limits nobody confirmed support no claim about a standard, and confirmed ones are named, not praised."""
    for document in (samples.document(), samples.one_set()):
        assert "compl" not in dump(document).lower().replace("complete", "")
