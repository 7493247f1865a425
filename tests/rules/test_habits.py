"""Habits that types and contracts can't see: one door per act, no clock inside, nothing caught in silence."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.rules import tree

Function = ast.FunctionDef | ast.AsyncFunctionDef

# Readings are not journalled one by one: submission journals the hash of the whole session, so that the tablet's
# path never waits for the head of the chain. They are rows that nobody can change, whoever brings them.
NOT_JOURNALLED = {"deposit", "deposit_all", "settle", "take"}

CLOCKS = {
    ("timezone", "now"),
    ("datetime", "now"),
    ("datetime", "utcnow"),
    ("date", "today"),
    ("time", "time"),
}
WRITES = {
    *("create", "bulk_create", "get_or_create", "update_or_create", "bulk_update", "update", "delete"),
    *("acreate", "aupdate", "adelete"),
}


def is_core(name: str) -> bool:
    """Tell whether a module is arithmetic, a read or an act: told the time, never asking."""
    parts = Path(name).parts
    return "metrology" in parts or any(part.startswith(("operations", "queries", "access")) for part in parts)


def is_edge(name: str) -> bool:
    """Tell whether a module answers somebody: parses, calls one operation, answers."""
    stem = Path(name).stem
    return stem in {"views", "api", "tasks", "forms", "filters"} or stem.startswith("queries")


def clock_calls(module: ast.Module) -> Iterator[int]:
    """Find the lines that read a clock."""
    for node in ast.walk(module):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            of = node.func.value
            owner = of.id if isinstance(of, ast.Name) else of.attr if isinstance(of, ast.Attribute) else ""
            if (owner, node.func.attr) in CLOCKS:
                yield node.lineno


def write_calls(module: ast.Module) -> Iterator[int]:
    """Find the lines that change rows: ``X.objects…create()`` and the like, and ``.save()`` with row arguments."""
    for node in ast.walk(module):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            chain = ast.unparse(node.func.value)
            if node.func.attr in WRITES and (".objects" in chain or ".filter(" in chain):
                yield node.lineno


def silent_handlers(module: ast.Module) -> Iterator[int]:
    """Find handlers that take everything and say nothing."""
    for node in ast.walk(module):
        if isinstance(node, ast.ExceptHandler):
            broad = node.type is None or ast.unparse(node.type) in {"Exception", "BaseException"}
            quiet = all(isinstance(item, ast.Pass | ast.Continue) for item in node.body)
            if node.type is None or (broad and quiet):
                yield node.lineno


def not_a_door(function: Function) -> str:
    """Say what keeps an operation from being a door; empty when nothing does.

    What acts for somebody (``by``) is a door: an act, by keyword. What only follows from an act (a standing worked
    out again, a document rendered) acts for nobody and is none.
    """
    positional = {argument.arg for argument in [*function.args.posonlyargs, *function.args.args]}
    names = positional | {argument.arg for argument in function.args.kwonlyargs}
    is_act = "act" in {ast.unparse(item).split("(")[0] for item in function.decorator_list}
    if not is_act and "by" not in names:
        return ""
    if positional:
        return "takes arguments by position"
    # A step that leaves a note needs no door of its own: without an act around it, the note is refused.
    leaves_note = any(
        isinstance(node, ast.Call) and ast.unparse(node.func) == "note" for node in ast.walk(function)
    )
    if not is_act and not leaves_note and function.name not in NOT_JOURNALLED:
        return "acts for somebody outside the door of acts"
    if is_act and not {"by", "now"} <= names:
        return "is an act without by and now"
    return ""


def exported(door: Path) -> set[str]:
    """Give the names that a topic's door of acts offers: those of the package, or all public ones of a file."""
    module = ast.parse(door.read_text())
    if door.name == "__init__.py":
        return {
            item.asname or item.name
            for node in module.body
            if isinstance(node, ast.ImportFrom)
            for item in node.names
        }
    return {node.name for node in module.body if isinstance(node, Function) and not node.name.startswith("_")}


def operations() -> list[tuple[str, Function]]:
    """List what the doors of all topics offer, as (path and line, function)."""
    found = []
    for name, _text, module in tree.sources():
        path = tree.ROOT / name
        door = path.parent / "__init__.py" if path.parent.name == "operations" else path
        if path.stem != "operations" and path.parent.name != "operations":
            continue
        offered = exported(door)
        found += [
            (f"{name}:{node.lineno}", node)
            for node in module.body
            if isinstance(node, Function) and node.name in offered
        ]
    return found


def test_the_core_is_told_the_time() -> None:
    found = [
        f"{name}:{line}"
        for name, _t, module in tree.sources()
        if is_core(name)
        for line in clock_calls(module)
    ]
    assert found == []


def test_rows_change_only_through_operations() -> None:
    found = [
        f"{name}:{line}"
        for name, _t, module in tree.sources()
        if is_edge(name)
        for line in write_calls(module)
    ]
    assert found == []


def test_nothing_is_caught_in_silence() -> None:
    found = [f"{name}:{line}" for name, _text, module in tree.sources() for line in silent_handlers(module)]
    assert found == []


def test_public_operations_are_doors() -> None:
    found = operations()
    assert len(found) > 20
    faults = [f"{where} {node.name} {not_a_door(node)}" for where, node in found if not_a_door(node)]
    assert faults == []


def test_public_functions_of_the_core_say_what_they_do() -> None:
    found = [
        f"{name}:{node.lineno} {node.name}"
        for name, _text, module in tree.sources()
        for node in module.body
        if isinstance(node, Function) and not node.name.startswith("_") and not ast.get_docstring(node)
    ]
    assert found == []


@pytest.mark.parametrize(
    ("search", "line"),
    [
        (clock_calls, "a = timezone.now()"),
        (clock_calls, "a = datetime.datetime.now()"),
        (write_calls, "Gauge.objects.filter(pk=1).update(place=2)"),
        (write_calls, "Gauge.objects.create(tag='x')"),
        (silent_handlers, "try:\n    a()\nexcept Exception:\n    pass"),
        (silent_handlers, "try:\n    a()\nexcept:\n    raise"),
    ],
)
def test_each_search_finds_what_it_is_for(search: object, line: str) -> None:
    assert callable(search)
    assert list(search(ast.parse(line)))


@pytest.mark.parametrize(
    ("source", "fault"),
    [
        ("def f(a, *, by, now): ...", "takes arguments by position"),
        ("@act('x.y')\ndef f(a): ...", "takes arguments by position"),
        ("def f(gauge, now): ...", ""),
        ("def f(*, by, now): ...", "acts for somebody outside the door of acts"),
        ("def f(*, by, now): note('gauge:1')", ""),
        ("@act('x.y')\ndef f(*, by): ...", "is an act without by and now"),
        ("@act('x.y')\ndef f(*, a, by, now): ...", ""),
    ],
)
def test_a_door_is_told_from_a_hole(source: str, fault: str) -> None:
    function = ast.parse(source).body[0]
    assert isinstance(function, ast.FunctionDef)
    assert not_a_door(function) == fault
