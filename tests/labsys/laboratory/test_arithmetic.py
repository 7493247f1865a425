"""The arithmetic asked from the page and from a program, and held against its known answers."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from labsys.journal.models import JournalEntry
from labsys.laboratory import validation
from labsys.laboratory.answer_parts import facts, grids
from labsys.laboratory.forms.questions import MOST_BYTES
from labsys.laboratory.queries import last_validation
from labsys.metrology.questions.asking import KINDS

pytestmark = pytest.mark.django_db

SignedIn = Callable[[str], Client]
QUESTION = {"questions": [{"kind": "rounding", "error": "0.0996 mm", "U": "0.0593 mm", "name": "S10"}]}
WRONG = {"questions": [{"kind": "rounding", "error": "0.0996 mm", "U": "0.0593 furlong"}]}


def test_a_typed_question_is_answered_beside_the_form(signed_in: SignedIn) -> None:
    answer = signed_in("auditor").post(reverse("arithmetic"), {"question": json.dumps(QUESTION)})
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "(+0.100 ± 0.059) mm" in page
    assert "JCGM 100:2008, 7.2.6" in page
    assert "furlong" not in page


def test_a_file_goes_before_what_is_typed(signed_in: SignedIn) -> None:
    file = SimpleUploadedFile("q.json", b"\xef\xbb\xbf" + json.dumps(QUESTION).encode())
    answer = signed_in("manager").post(reverse("arithmetic"), {"question": "{", "file": file})
    assert "(+0.100 ± 0.059) mm" in answer.content.decode()


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"question": json.dumps(WRONG)}, "questions[0].U"),
        ({"question": "{"}, "line 1, column 2"),
        ({"question": " "}, "Type a question"),
        ({"file": SimpleUploadedFile("q.json", b"\xff\xfe")}, "UTF-8"),
        ({"file": SimpleUploadedFile("q.json", b" " * (MOST_BYTES + 1))}, "at most 1,000,000 bytes"),
    ],
)
def test_a_wrong_question_is_told_where_and_keeps_what_was_typed(
    signed_in: SignedIn, sent: dict[str, object], said: str
) -> None:
    answer = signed_in("manager").post(reverse("arithmetic"), sent)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    if "furlong" in str(sent):
        assert "furlong" in answer.content.decode()


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_has_an_example_that_is_answered(signed_in: SignedIn, kind: str) -> None:
    client = signed_in("manager")
    example = validation.example_of(kind)
    assert example, f"no known answer asks a question of the kind {kind}"
    page = client.get(reverse("arithmetic"), {"kind": kind}).content.decode()
    assert f"id=&quot;kind-{kind}" in page or f'id="kind-{kind}"' in page
    assert client.post(reverse("arithmetic"), {"question": example}).status_code == 200


def test_the_page_says_what_an_unknown_kind_gives(signed_in: SignedIn) -> None:
    assert signed_in("manager").get(reverse("arithmetic"), {"kind": "riddle"}).status_code == 200


def test_a_program_asks_the_same(signed_in: SignedIn) -> None:
    client = signed_in("technician")
    address = reverse("api-evaluate")
    answer = client.post(address, json.dumps(QUESTION), content_type="application/json")
    assert answer.json()["answers"][0]["values"]["text"] == "(+0.100 ± 0.059) mm"
    refused = client.post(address, json.dumps(WRONG), content_type="application/json")
    assert (refused.status_code, refused.json()["code"]) == (400, "question-unreadable")
    assert "questions[0].U" in refused.json()["sentence"]


def test_the_run_of_the_known_answers_is_recorded(signed_in: SignedIn) -> None:
    client = signed_in("manager")
    assert last_validation() is None
    page = client.post(reverse("arithmetic-validate"), follow=True).content.decode()
    entry = last_validation()
    assert entry is not None and entry.after is not None
    assert entry.after["cases"] == len(validation.cases()) > 0
    assert entry.after["differing"] == []
    assert f"All {entry.after['values']} values" in page
    assert "Last run" in page and "numpy" in page


def test_a_value_that_differs_is_named_and_recorded(
    signed_in: SignedIn, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    wrong = {**QUESTION["questions"][0], "expected": [{"quantity": "U", "printed": "0.07"}]}
    content = {"format": 1, "about": "x", "source": "y", "questions": [wrong]}
    (tmp_path / "case-1.json").write_text(json.dumps(content))
    monkeypatch.setattr(validation, "FOLDER", tmp_path)
    page = signed_in("manager").post(reverse("arithmetic-validate"), follow=True).content.decode()
    assert "case-1 (U)" in page
    entry = JournalEntry.objects.get(act="laboratory.validate-arithmetic")
    assert entry.after is not None and entry.after["differing"] == ["case-1: U"]


def test_only_who_manages_the_laboratory_records_a_run(signed_in: SignedIn) -> None:
    for role in ("technician", "reviewer", "auditor"):
        assert signed_in(role).post(reverse("arithmetic-validate")).status_code == 403
    assert signed_in("floor").get(reverse("arithmetic")).status_code == 403
    assert last_validation() is None


def test_lists_of_objects_are_tables_and_the_rest_is_facts() -> None:
    values = {"u": 1.5, "rows": [{"name": "block", "u": 1}, {"name": "step", "share": None}], "empty": [],
              "best": {"at": [1, 2], "ok": True}}  # fmt: skip
    assert [(one.name, one.text) for one in facts(values)] == [
        ("u", "1.5"), ("empty", "–"), ("best.at", "1; 2"), ("best.ok", "yes"),
    ]  # fmt: skip
    (grid,) = grids(values)
    assert (grid.headings, grid.rows) == (("name", "u", "share"), (("block", "1", "–"), ("step", "–", "–")))
