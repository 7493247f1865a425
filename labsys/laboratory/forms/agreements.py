"""The form of an agreement: the decision rule in words, limits with their source, what else was settled."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from labsys.laboratory.forms.fields import Figure, Lines, day_field
from labsys.laboratory.models import CHARACTERISTICS, Agreement, Department, Family
from labsys.laboratory.operations import AgreementTerms
from labsys.metrology.rules import RuleKind
from labsys.metrology.views import VIEW_WORDS, View

KINDS = (
    (
        RuleKind.SIMPLE.value,
        "Simple acceptance: an error within the limits is in tolerance. Refused by name where U is too large.",
    ),
    (
        RuleKind.GUARDED.value,
        "Guarded acceptance: the limits are drawn in by w = g · U; between them and the limits nothing is accepted.",
    ),
    (
        RuleKind.SPECIFIC_RISK.value,
        "Largest risk: the limits are drawn in until accepting a bad gauge is no likelier than agreed.",
    ),
    (
        RuleKind.PROVE.value,
        "Conformance is to be proven: in tolerance inside by g · U, out of tolerance outside by it, else not decided.",
    ),
    (
        RuleKind.FOUR_WAY.value,
        "Four-way statement: as above, and between them conditional on the side where the error lies.",
    ),
    (
        RuleKind.PRESCRIBED.value,
        "Prescribed by the specification: its own acceptance limits are taken over; U is reported and not used.",
    ),
)
VIEWS = (
    (View.TEST_VALUE.value, f"{VIEW_WORDS[View.TEST_VALUE]}: only how well the test was done (ISO 14253-5)"),
    (
        View.CALIBRATION.value,
        f"{VIEW_WORDS[View.CALIBRATION]}: with the gauge's own resolution and repeatability",
    ),
)


class AgreementForm(forms.Form):
    """What a department settles for a family of its gauges."""

    department = forms.ModelChoiceField(
        Department.objects.all(), label="Department", empty_label="Choose one"
    )
    family = forms.ModelChoiceField(Family.objects.all(), label="Family of gauges", empty_label="Choose one")
    valid_from = day_field(label="From")
    agreed_by = forms.CharField(
        label="Agreed by", max_length=150, help_text="Who settled it for the department, by role."
    )
    kind = forms.ChoiceField(
        label="Decision rule", choices=KINDS, widget=forms.RadioSelect, initial=RuleKind.SIMPLE
    )
    view = forms.ChoiceField(
        label="Uncertainty it uses", choices=VIEWS, widget=forms.RadioSelect, initial=View.TEST_VALUE
    )
    min_ratio = Figure(
        label="Smallest accuracy ratio", required=False, initial="4",
        help_text="For simple acceptance: width of the limits over 2 U. Empty: agreed without a condition on U.",
    )  # fmt: skip
    g = Figure(
        label="Guard g", required=False, initial="1",
        help_text="For guarded acceptance, proof and the four-way statement: how many times U. Usual: 1.",
    )  # fmt: skip
    max_false_accept = Figure(
        label="Largest risk", required=False,
        help_text="For the rule of that name: a probability above 0, at most 0.5. Such as 0.025.",
    )  # fmt: skip
    document = forms.CharField(
        label="Prescribed by", max_length=200, required=False,
        help_text="For the rule of that name: the specification with edition and clause that says what is accepted.",
    )  # fmt: skip
    limits_source = forms.CharField(
        label="Limits from", max_length=200, required=False,
        help_text="The specification with edition and clause. Wanted where lines of limits stand below.",
    )  # fmt: skip
    limits_confirmed = forms.BooleanField(
        label="The limits were compared with our own copy of the source", required=False,
        help_text="Until then they are marked not confirmed, and no certificate says that a gauge complies.",
    )  # fmt: skip
    adjustment_allowed = forms.BooleanField(
        label="The laboratory may adjust", required=False,
        help_text="After the as-found results are taken; then it measures again.",
    )  # fmt: skip
    due_date_printed = forms.BooleanField(
        label="The due date is printed on certificates and labels", required=False,
        help_text="ISO/IEC 17025, 7.8.4.3: only where it was agreed.",
    )  # fmt: skip
    recipients = Lines(
        label="Recipients",
        required=False,
        help_text="Mail addresses that get certificates and notices, one on each line.",
    )

    PARAMETERS: ClassVar[dict[str, str]] = {
        RuleKind.SIMPLE.value: "min_ratio",
        RuleKind.SPECIFIC_RISK.value: "max_false_accept",
        RuleKind.PRESCRIBED.value: "document",
    }

    @classmethod
    def after(cls, row: Agreement, **more: Any) -> AgreementForm:
        """Make the form filled in with what an agreement says, to settle it anew."""
        alike = ("department", "family", "agreed_by", "limits_source", "limits_confirmed")
        given = {name: getattr(row, name) for name in (*alike, "adjustment_allowed", "due_date_printed")}
        blank = dict.fromkeys(("min_ratio", "g", "max_false_accept", "document"), "")
        rule = {name: "" if value is None else value for name, value in row.rule.items()}
        return cls(initial={**given, **blank, **rule, "recipients": "\n".join(row.recipients), **more})

    def clean(self) -> dict[str, Any]:
        """Ask for the parameter that the chosen rule can't do without."""
        given: dict[str, Any] = super().clean() or {}
        name = self.PARAMETERS.get(given.get("kind", ""), "g")
        if name != "min_ratio" and given.get("kind") and not given.get(name) and name not in self.errors:
            self.add_error(name, "This rule needs it.")
        return given

    def rule(self) -> dict[str, Any]:
        """Give the rule with the parameter that belongs to its kind, and no other."""
        given = self.cleaned_data
        name = self.PARAMETERS.get(given["kind"], "g")
        return {"kind": given["kind"], "view": given["view"], name: given[name]}

    def terms(self, lines: list[dict[str, Any]]) -> AgreementTerms:
        """Give what was filled in, with the lines of limits, as the act takes it."""
        names = ("limits_source", "limits_confirmed", "adjustment_allowed", "due_date_printed", "recipients")
        given = {name: self.cleaned_data[name] for name in names}
        return AgreementTerms(rule=self.rule(), limit_rows=lines or None, **given)


class LimitLineForm(forms.Form):
    """One line of limits; an empty line is left out."""

    function = forms.ChoiceField(
        label="Function", choices=[("", "–"), *CHARACTERISTICS.items()], required=False
    )
    up_to_mm = forms.CharField(label="Up to (mm)", required=False)
    lower_mm = forms.CharField(label="Lower limit (mm)", required=False)
    upper_mm = forms.CharField(label="Upper limit (mm)", required=False)

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        for field in self.fields.values():
            field.widget.attrs["aria-label"] = field.label
            if isinstance(field, forms.CharField):
                field.widget.attrs["inputmode"] = "decimal"


LimitLines = forms.formset_factory(LimitLineForm, extra=5)


def lines_given(lines: Any) -> list[dict[str, Any]]:
    """Give the lines that were filled in, as they travel; what is wrong with one the act says."""
    filled = [form.cleaned_data for form in lines if any(form.cleaned_data.values())]
    names = ("up_to_mm", "lower_mm", "upper_mm")
    return [{"function": row["function"], **{name: row[name] or None for name in names}} for row in filled]
