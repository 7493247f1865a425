"""What the certificate says of rule, uncertainty and risk."""

from __future__ import annotations

from instruments.certificates.document.conformity import Grounds, state
from labsys.metrology.rules import Rule, RuleKind
from labsys.metrology.views import View
from tests.instruments.certificates import samples
from tests.labsys.metrology.budgets import normal_budget


def test_a_prescribed_rule_names_its_document_and_restates_no_risk() -> None:
    rule = Rule(RuleKind.PRESCRIBED, View.CALIBRATION, document="ISO 13385-1:2019, clause 6")
    grounds = Grounds("ISO 13385-1:2019", True, False, "by the lead of shafts", rule)
    found = state(samples.document().stages, grounds, [normal_budget(0.02)])
    assert found is not None
    assert found.rule.startswith("Acceptance as ISO 13385-1:2019, clause 6 prescribes")
    assert found.risk.startswith("ISO 13385-1:2019, clause 6 prescribes which results are accepted")
    assert "7.8.6.1" in found.risk and "at most" not in found.risk
    assert found.uncertainty.startswith("No uncertainty enters the verdict")


def test_a_guarded_rule_still_says_its_risk() -> None:
    rule = Rule(RuleKind.GUARDED, View.CALIBRATION)
    grounds = Grounds("ISO 13385-1:2019", True, False, "by the lead of shafts", rule)
    found = state(samples.document().stages, grounds, [normal_budget(0.02)])
    assert found is not None
    # ILAC-G8:09/2019, table 1: under 2.5 % at w = U; 2.28 % rounds up to 2.3 %.
    assert "at most 2.3 %" in found.risk
    assert found.uncertainty.startswith("The rule uses U as stated beside each result")
