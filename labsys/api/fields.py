"""Asking for less: ``?fields=tag,standing`` gives these fields of each record and no others."""

from __future__ import annotations

from typing import Any, ClassVar

from rest_framework import serializers

from labsys.errors import LabError


class UnknownField(LabError, ValueError):
    """A field was asked for that the records don't have."""

    code: ClassVar[str] = "unknown-field"
    sentence: ClassVar[str] = "There is no field “{found}” here. There are: {known}."
    field: ClassVar[str | None] = "fields"


class ChosenFields(serializers.Serializer[Any]):
    """A serializer that gives the fields the address asks for, all of them where it asks for none."""

    def get_fields(self) -> dict[str, serializers.Field]:
        """Drop what wasn't asked for; raises UnknownField."""
        fields = super().get_fields()
        request = self.context.get("request")
        asked = request.query_params.get("fields", "") if request is not None else ""
        # The records inside a record are given whole.
        if not asked or not (self.root is self or self.parent is self.root):
            return fields
        names = [name.strip() for name in asked.split(",") if name.strip()]
        for name in names:
            if name not in fields:
                raise UnknownField(found=name, known=", ".join(fields))
        return {name: field for name, field in fields.items() if name in names}
