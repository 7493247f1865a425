"""What the form templates ask: ``{% error_summary form %}`` on top, and whether a field is a single box to tick."""

from __future__ import annotations

from typing import Any

from django import template
from django.forms import BaseForm, BoundField, CheckboxInput

register = template.Library()


@register.filter
def is_single_choice(field: BoundField) -> bool:
    """Tell whether the label belongs behind the control."""
    return isinstance(field.field.widget, CheckboxInput)


@register.inclusion_tag("labsys/elements/error_summary.html")
def error_summary(form: BaseForm) -> dict[str, Any]:
    """Say on top how many things are to be mended, each a link to its field."""
    beside = [field for field in form.visible_fields() if field.errors]
    hidden = [(field, field.errors) for field in form.hidden_fields() if field.errors]
    count = sum(len(field.errors) for field in beside) + len(form.non_field_errors())
    count += sum(len(errors) for _, errors in hidden)
    return {"form": form, "beside": beside, "hidden": hidden, "count": count}
