"""From a procedure's content back to JSON: one canonical text to hash, one laid out for people.

Lives here: the written form. May not live here: what may be written (parsing.py).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import Field, fields, is_dataclass
from decimal import Decimal
from typing import Any

from instruments.procedures.content.lengths import LEFT_OUT
from instruments.procedures.content.parsing import FORMAT
from instruments.procedures.content.parts import Content
from labsys.journal.door import canonical
from labsys.metrology.exact import plain


def dump(content: Content) -> str:
    """Write the canonical text: sorted fields, no blanks, decimals as the shortest strings. ``parse`` reads it back."""
    return canonical(to_json(content))


def laid_out(content: Content) -> str:
    """Write the same for people to read and keep: indented, in the order of the documentation."""
    return json.dumps(to_json(content), indent=2, ensure_ascii=False) + "\n"


def to_json(content: Content) -> dict[str, Any]:
    """Give the content as plain dicts, lists and strings.

    One that says nothing which the first form couldn't is written in it, so that its hash stays what was signed.
    """
    written = _plain(content)
    is_new = bool(
        content.series or content.points is None or content.zero.text or content.zero.how != "faces"
    )
    if not is_new:
        del written["series"], written["zero"]["how"], written["zero"]["text"]
    return {"format": FORMAT if is_new else 1, **written}


def _is_unsaid(one: Field[Any], of: Any) -> bool:
    """Say whether a field that came later says nothing: a content without it keeps the text it was signed with."""
    return LEFT_OUT in one.metadata and bool(getattr(of, one.name) == one.default)


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        return {
            one.name: _plain(getattr(value, one.name)) for one in fields(value) if not _is_unsaid(one, value)
        }
    if isinstance(value, Mapping):
        return {str(name): _plain(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, Decimal):
        return format(plain(value), "f")
    # The only float is the coverage probability; its shortest text reads back exactly.
    return repr(value) if isinstance(value, float) else value
