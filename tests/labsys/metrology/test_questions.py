"""Questions as files: what a wrong file is told, what counts as agreeing, what the command says and how it ends."""

from __future__ import annotations

import io
import json
import math
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from hypothesis import given
from hypothesis import strategies as st

from labsys.metrology.questions.answers import Answer, Step, plain_form
from labsys.metrology.questions.asking import (
    KINDS,
    QuestionRefused,
    answer_file,
    disagreements,
    form_of,
    parse_file,
)
from labsys.metrology.questions.fields import Fields, QuestionUnreadable

ROUNDING = {"kind": "rounding", "error": "0.0996 mm", "U": 0.0593}


def asked(**changes: Any) -> dict[str, Any]:
    """Ask one rounding question with changes."""
    return {"format": 1, "questions": [{**ROUNDING, **changes}]}


@pytest.mark.parametrize(
    ("content", "place", "said"),
    [
        ([], "file", "an object"),
        ({"format": 2, "questions": []}, "file.format", "expected 1"),
        ({}, "file.questions", "found nothing"),
        ({"questions": [3]}, "file.questions[0]", "an object"),
        ({"questions": [], "qestions": []}, "file", "“questions” perhaps"),
        ({"questions": [{"kind": "riddle"}]}, "file.questions[0].kind", "one of"),
        (asked(error="long"), "file.questions[0].error", "a length"),
        (asked(error=True), "file.questions[0].error", "a number"),
        (asked(error="1 furlong"), "file.questions[0].error", "a length"),
        (asked(digits=3), "file.questions[0].digits", "1 or 2"),
        (asked(digits=1.5), "file.questions[0].digits", "a whole number"),
        (asked(rounding="down"), "file.questions[0].rounding", "half_even, half_up"),
        (asked(digit=1), "file.questions[0]", "“digits” perhaps"),
        (asked(expected=[{"quantity": "u", "printed": "1"}]), "file.questions[0].expected", "error, U, unit"),
        (asked(expected=[{"quantity": "U", "printed": []}]), "file.questions[0].expected[0].printed", "word"),
    ],
)
def test_a_wrong_file_is_told_the_place(content: Any, place: str, said: str) -> None:
    with pytest.raises(QuestionUnreadable) as refused:
        answer_file(content)
    assert refused.value.data["place"] == place
    assert said in str(refused.value)


def test_what_the_arithmetic_refuses_is_told_with_its_place() -> None:
    with pytest.raises(QuestionRefused, match=r"questions\[0\]: Expected an expanded uncertainty above zero"):
        answer_file(asked(U=0))


@pytest.mark.parametrize("text", ["{", '{"questions": [NaN]}', "[1,]", '{"a": Infinity}'])
def test_what_is_no_json_is_told_where(text: str) -> None:
    with pytest.raises(QuestionUnreadable):
        parse_file(text)


@pytest.mark.parametrize(
    ("printed", "more", "agrees"),
    [
        ("0.059", {}, True),
        ("0.0595", {}, False),
        ("0.0585", {"within": "0.0005"}, True),
        ("0.0584", {"within": "0.0005"}, False),
        ("0.06", {}, True),  # half a unit of the last digit printed: 0.055 to 0.065
        ("0.05", {}, False),
        ("0.0596", {"within_share": "0.02"}, True),
        ("0.0596", {"within_share": "0.001"}, False),
        ("mm", {}, False),
    ],
)
def test_numbers_agree_at_the_precision_they_were_printed_with(
    printed: str, more: dict[str, str], agrees: bool
) -> None:
    answered = answer_file(asked(expected=[{"quantity": "U", "printed": printed, **more}]))
    assert (disagreements(answered) == []) is agrees


def test_words_and_flags_agree_when_they_are_equal() -> None:
    good = {"quantity": "unit", "printed": "mm"}
    assert disagreements(answer_file(asked(expected=[good]))) == []
    for printed in ("in", True, None):
        (one,) = disagreements(answer_file(asked(expected=[{**good, "printed": printed}])))
        assert one["found"] == "mm"


def test_numbers_keep_their_digits_from_the_file_to_the_answer() -> None:
    content = parse_file('{"questions": [{"kind": "rounding", "error": 0.1000000000000000055, "U": "0.2"}]}')
    found = answer_file(content)["answers"]
    assert isinstance(found, list) and isinstance(found[0], dict)
    assert found[0]["values"]["error"] == "0.10"  # type: ignore[index,call-overload]


@given(st.floats(allow_nan=True, allow_infinity=True) | st.decimals(allow_nan=False, allow_infinity=False))
def test_every_value_has_a_plain_form_that_json_can_hold(value: Any) -> None:
    text = json.dumps(plain_form({"value": [value, (value,)]}), allow_nan=False)
    (found, _) = json.loads(text)["value"]
    if isinstance(value, Decimal):
        assert Decimal(found) == value
    elif math.isfinite(value):
        assert found == value
    else:
        assert found in ("infinite", "minus infinite", "not a number")


def test_an_answer_that_holds_something_else_is_an_error_of_ours() -> None:
    with pytest.raises(TypeError, match="object"):
        Answer({"x": object()}, (Step("x", 1),)).to_json()


READERS: dict[str, Callable[[Fields], object]] = {
    "text": lambda fields: fields.text("x"),
    "flag": lambda fields: fields.flag("x"),
    "number": lambda fields: fields.number("x", at_least=0, below=1e6),
    "probability": lambda fields: fields.probability("x"),
    "freedom": lambda fields: fields.freedom("x"),
    "count": lambda fields: fields.count("x"),
    "length": lambda fields: fields.length("x"),
    "numbers": lambda fields: fields.numbers("x"),
    "lengths": lambda fields: fields.lengths("x"),
    "texts": lambda fields: fields.texts("x"),
    "table": lambda fields: fields.table("x"),
    "object": lambda fields: fields.object("x"),
    "objects": lambda fields: fields.objects("x"),
}
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.decimals() | st.text(max_size=9),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=3),
    max_leaves=5,
)


@pytest.mark.parametrize("reader", READERS)
@given(JSON)
def test_whatever_stands_in_a_field_is_read_or_refused_with_its_place(reader: str, found: Any) -> None:
    try:
        READERS[reader](Fields({"x": found}, "here"))
    except QuestionUnreadable as refusal:
        assert refusal.data["place"].startswith("here.x")


@pytest.mark.parametrize("kind", sorted(KINDS))
@given(JSON)
def test_a_question_of_any_kind_with_nonsense_in_it_is_refused_by_name(kind: str, nonsense: Any) -> None:
    with pytest.raises((QuestionUnreadable, QuestionRefused)):
        answer_file({"questions": [{"kind": kind, "nonsense": nonsense}]})


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Callable[..., str]:
    def do(*arguments: str) -> str:
        out = io.StringIO()
        call_command("evaluate", *arguments, stdout=out)
        return out.getvalue()

    return do


def test_the_command_prints_answers_of_files_and_of_standard_input(
    run: Callable[..., str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "one.json").write_text(json.dumps(asked()), encoding="utf-8")
    monkeypatch.setattr("sys.stdin", io.StringIO(json.dumps(asked(U=0.2))))
    first, second = json.loads(run(str(tmp_path), "-"))
    assert first["answers"][0]["values"]["text"] == "(+0.100 ± 0.059) mm"
    assert second["answers"][0]["values"]["U"] == "0.20"


def test_the_command_fails_when_a_value_differs_and_says_which(
    run: Callable[..., str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "one.json"
    path.write_text(json.dumps(asked(expected=[{"quantity": "U", "printed": "0.07"}])), encoding="utf-8")
    out = io.StringIO()
    with pytest.raises(CommandError, match="1 of the expected values differ"):
        call_command("evaluate", "--brief", str(path), stdout=out)
    assert "DIFFERS" in out.getvalue() and "expected 0.07, found 0.059" in out.getvalue()


def test_a_wrong_file_does_not_keep_the_others_from_their_answers(tmp_path: Path) -> None:
    (tmp_path / "a.json").write_bytes(b"\xff{")
    (tmp_path / "b.json").write_text("{", encoding="utf-8")
    (tmp_path / "c.json").write_text(json.dumps(asked()), encoding="utf-8")
    out = io.StringIO()
    with pytest.raises(CommandError) as refused:
        call_command("evaluate", str(tmp_path), str(tmp_path / "none.json"), stdout=out)
    assert [line.rsplit("/", 1)[-1].split(":")[0] for line in str(refused.value).splitlines()] == [
        "a.json", "b.json", "none.json",
    ]  # fmt: skip
    assert len(json.loads(out.getvalue())) == 1


def test_every_kind_has_its_form_in_writing(run: Callable[..., str]) -> None:
    printed = run("--forms")
    for kind in KINDS:
        assert f"``{kind}``: " in printed, kind
        for heading in ("Fields:", "Answers:"):
            assert heading in form_of(kind), (kind, heading)


def test_the_command_wants_something_to_answer() -> None:
    with pytest.raises(CommandError, match="Expected a file"):
        call_command("evaluate")


@pytest.mark.parametrize("found", ["1e999999", "-1e400", "1e-999999", Decimal("1e999999")])
@pytest.mark.parametrize("reader", ["number", "count", "length", "numbers", "table"])
def test_a_number_beyond_all_measure_is_refused_at_once(reader: str, found: Any) -> None:
    value = [[found]] if reader == "table" else [found] if reader == "numbers" else found
    with pytest.raises(QuestionUnreadable):
        READERS[reader](Fields({"x": value}, "here"))
