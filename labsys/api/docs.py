"""The page that explains the addresses for programs, drawn from the published description itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET
from drf_spectacular.generators import SchemaGenerator


@dataclass(frozen=True)
class Field:
    """A field of an answer, or a parameter: its name, its kind in words, what it is for."""

    name: str
    kind: str
    says: str


@dataclass(frozen=True)
class Address:
    """One address: how and where to ask, what may be asked, what is answered, what may go wrong."""

    method: str
    path: str
    summary: str
    says: str
    parameters: list[Field]
    fields: list[Field]
    errors: list[tuple[str, str]]


@login_required
@require_GET
def docs(request: HttpRequest) -> HttpResponse:
    """Show every address there is."""
    described: dict[str, Any] = SchemaGenerator().get_schema(request=None, public=True)  # type: ignore[no-untyped-call]
    return render(request, "labsys/api/docs.html", {"addresses": addresses(described)})


def addresses(described: dict[str, Any]) -> list[Address]:
    """Read the addresses out of an OpenAPI description."""
    shapes = described.get("components", {}).get("schemas", {})
    return [
        _address(method, path, operation, shapes)
        for path, methods in described["paths"].items()
        for method, operation in methods.items()
    ]


def _address(method: str, path: str, operation: dict[str, Any], shapes: dict[str, Any]) -> Address:
    responses = operation["responses"]
    good: dict[str, Any] = next((said for status, said in responses.items() if status.startswith("2")), {})
    return Address(
        method=method.upper(),
        path=path,
        summary=operation.get("summary", ""),
        says=operation.get("description", ""),
        parameters=[
            Field(one["name"], _kind(one["schema"]), one.get("description", ""))
            for one in operation.get("parameters", [])
        ],
        fields=_fields(_shape_of(good), shapes),
        errors=[(status, said["description"]) for status, said in responses.items() if status >= "400"],
    )


def _shape_of(response: dict[str, Any]) -> dict[str, Any]:
    shape: dict[str, Any] = response.get("content", {}).get("application/json", {}).get("schema", {})
    return shape


def _fields(shape: dict[str, Any], shapes: dict[str, Any]) -> list[Field]:
    """List the fields of one record; of a list, those of its rows."""
    resolved = _resolved(shape, shapes)
    rows = resolved.get("properties", {}).get("results") or (resolved if "items" in resolved else None)
    if rows is not None:
        return _fields(rows.get("items", {}), shapes)
    return [
        Field(name, _kind(one), one.get("description", "") or _resolved(one, shapes).get("description", ""))
        for name, one in resolved.get("properties", {}).items()
    ]


def _resolved(shape: dict[str, Any], shapes: dict[str, Any]) -> dict[str, Any]:
    for part in shape.get("allOf", []):
        return _resolved(part, shapes)
    name = shape.get("$ref", "").rpartition("/")[2]
    found: dict[str, Any] = shapes.get(name, shape)
    return found


def _kind(shape: dict[str, Any]) -> str:
    """Say what a value is in words."""
    if "enum" in shape:
        return "one of: " + ", ".join(str(value) for value in shape["enum"])
    if "$ref" in shape or "allOf" in shape:
        return "record"
    if shape.get("type") == "array":
        return f"list of {_kind(shape['items'])}"
    word = str(shape.get("format") or shape.get("type") or "any")
    kind = {"date-time": "instant", "string": "text", "boolean": "true or false", "uri": "address"}.get(
        word, word
    )
    return f"{kind} or null" if shape.get("nullable") else kind
