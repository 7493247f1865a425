"""How big things may grow. The aims are the house's; what fails here is past them."""

from __future__ import annotations

import ast
import statistics
from pathlib import Path

from tests.rules import tree

LONGEST_MODULE = 400
LONGEST_BODY = 60
MOST_PARAMETERS = 6
# What every method and every act has besides its own.
GIVEN = {"self", "cls", "by", "now"}


def modules() -> dict[str, str]:
    """Give the modules that hold code, by path."""
    return {name: text for name, text, _tree in tree.sources() if not name.endswith("__init__.py")}


def share_within(values: list[int], limit: int) -> float:
    return sum(value <= limit for value in values) / len(values)


def body(function: ast.FunctionDef | ast.AsyncFunctionDef, lines: list[str]) -> int:
    """Count a function's lines of code, without its docstring, comments and blank lines."""
    statements = function.body[1:] if ast.get_docstring(function) else function.body
    rows = {row for item in statements for row in range(item.lineno, (item.end_lineno or item.lineno) + 1)}
    return sum(1 for row in rows if lines[row - 1].strip() and not lines[row - 1].strip().startswith("#"))


def bodies() -> dict[str, int]:
    found = {}
    for name, text, module in tree.sources():
        for node in ast.walk(module):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                found[f"{name}:{node.lineno} {node.name}"] = body(node, text.splitlines())
    return found


def test_modules_stay_small() -> None:
    lengths = {name: text.count("\n") for name, text in modules().items()}
    assert [f"{name}: {length}" for name, length in lengths.items() if length > LONGEST_MODULE] == []
    assert statistics.median(lengths.values()) < 100
    assert share_within(list(lengths.values()), 200) >= 0.9


def test_functions_stay_small() -> None:
    found = bodies()
    assert [f"{name}: {length}" for name, length in found.items() if length > LONGEST_BODY] == []
    assert share_within(list(found.values()), 20) >= 0.9


def parameters(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Count a function's own parameters."""
    arguments = function.args
    named = [*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs]
    return sum(argument.arg not in GIVEN for argument in named)


def test_many_parameters_become_a_dataclass() -> None:
    found = [
        f"{name}:{node.lineno} {node.name} has {parameters(node)}"
        for name, _text, module in tree.sources()
        for node in ast.walk(module)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and parameters(node) > MOST_PARAMETERS
    ]
    assert found == []


def test_parameters_are_counted_without_what_is_given() -> None:
    function = ast.parse("def f(self, a, /, b, *, c, by, now): ...").body[0]
    assert isinstance(function, ast.FunctionDef)
    assert parameters(function) == 3


def test_a_body_is_counted_without_words() -> None:
    text = 'def f():\n    """Say."""\n    # why\n    a = 1\n\n    return a\n'
    function = ast.parse(text).body[0]
    assert isinstance(function, ast.FunctionDef)
    assert body(function, text.splitlines()) == 2


def test_settings_stay_in_sight() -> None:
    text = (tree.ROOT / "labsys" / "settings.py").read_text()
    targets = [
        name.id
        for node in ast.parse(text).body
        if isinstance(node, ast.Assign | ast.AnnAssign)
        for name in ast.walk(node)
        if isinstance(name, ast.Name) and isinstance(name.ctx, ast.Store) and name.id.isupper()
    ]
    assert text.count("\n") < 300
    assert 30 < len(set(targets)) < 60


def test_templates_stay_small() -> None:
    long = [
        f"{name}: {text.count(chr(10))}"
        for name, text in tree.texts()
        if "templates" in Path(name).parts and name.endswith((".html", ".txt")) and text.count("\n") > 150
    ]
    assert long == []
