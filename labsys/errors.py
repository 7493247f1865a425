"""The root of every refusal the program makes: a stable code, a sentence for a person, data fields for a machine.

Lives here: the shape alone. Each named error stands beside the operation that raises it.
"""

from __future__ import annotations

from typing import Any, ClassVar, Self


class LabError(Exception):
    """A refusal with a reason: says what was expected, what was found and what to do next.

    Subclasses set ``code`` (stable, kebab-case) and ``sentence`` (a format string over the data fields).
    ``field`` names the form field the sentence belongs beside, where there is one.
    """

    code: ClassVar[str] = "refused"
    sentence: ClassVar[str] = "This can't be done."
    field: ClassVar[str | None] = None

    def __init__(self, **data: Any) -> None:
        super().__init__(self.sentence.format(**data))
        self.data: dict[str, Any] = data

    def __reduce__(self) -> tuple[Any, ...]:
        # Exceptions with keyword arguments don't survive pickling by themselves, and workers pickle what they raise.
        return _rebuild, (type(self), self.data)

    @classmethod
    def rebuild(cls, data: dict[str, Any]) -> Self:
        """Make the same error again from its data fields."""
        return cls(**data)


def _rebuild(kind: type[LabError], data: dict[str, Any]) -> LabError:
    return kind.rebuild(data)
