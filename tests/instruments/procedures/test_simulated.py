"""First order against simulation at approval: worked out, shown, kept with the revision and frozen with it."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from django.db import DatabaseError, transaction
from django.test import Client
from django.urls import reverse
from scipy import stats

from instruments.procedures.document.comparisons import comparison_table
from instruments.procedures.models import Revision
from instruments.procedures.operations import approve_revision
from instruments.procedures.shipped import caliper
from instruments.procedures.simulated import MOST_TRIALS, _compared, simulate_trials
from instruments.procedures.trial import try_out
from labsys.journal.door import canonical, hash_of
from labsys.journal.models import JournalEntry
from tests import laboratory
from tests.instruments.procedures.conftest import NOW
from tests.laboratory import PASSWORD, Lab, proof

LATER = NOW + timedelta(hours=1)


def approve(row: Revision, lab: Lab) -> Revision:
    return approve_revision(revision=row, proof=proof(lab.reviewer, LATER), by=lab.reviewer, now=LATER)


def rows_of(row: Revision) -> dict[tuple[str, str], dict[str, Any]]:
    assert row.comparison is not None
    return {(one["function"], one["view"]): one for one in row.comparison["rows"]}


def test_approval_keeps_the_comparison_of_both_uncertainties_at_every_point(
    lab: Lab, draft: Callable[..., Revision]
) -> None:
    laboratory.caliper_model(lab)
    row = approve(draft(), lab)
    row.refresh_from_db()
    assert row.comparison is not None
    assert (row.comparison["seed"], row.comparison["digits"]) == (row.content_sha256[:16], 2)
    found = rows_of(row)
    functions = {"outside", "inside", "depth", "step", "small_bore"}
    assert set(found) == {(one, view) for one in functions for view in ("calibration", "test_value")}
    for one in found.values():
        assert one["why"] == "" and 20_000 <= one["trials"] <= MOST_TRIALS
        share = float(one["U_simulated_mm"]) / float(one["U_mm"]) - 1
        assert float(one["share"]) == pytest.approx(share)
        assert one["is_far_off"] is (abs(share) > 0.05)


def test_the_simulated_interval_agrees_with_draws_made_by_hand(
    lab: Lab, draft: Callable[..., Revision]
) -> None:
    laboratory.caliper_model(lab)
    one = rows_of(approve(draft(), lab))["outside", "calibration"]
    # In µm at 150 mm, the components of the trial written out (see test_trial), by a statistics library's own draws:
    # standard 3.75/2; a year's change ±(0.05 + 0.075); three joints √3·0.05/√3; ±0.5 K; expansion; zero and jaws ±5;
    # readings s = 4.83 with nine degrees of freedom. The joints and the expansion count as normal.
    rng, count = np.random.default_rng(77), 1_000_000
    normal = np.hypot(np.hypot(3.75 / 2, 0.05), 150_000 * 2e-6 / 6**0.5 * (4 + 1 / 3) ** 0.5)
    sums = stats.norm(0, normal).rvs(count, random_state=rng)
    for half_width in (0.125, 150_000 * 11.5e-6 * 0.5, 5.0, 5.0):
        sums += stats.uniform(-half_width, 2 * half_width).rvs(count, random_state=rng)
    sums += 4.83 * stats.t(9).rvs(count, random_state=rng)
    low, high = np.quantile(sums, [(1 - 0.9545) / 2, (1 + 0.9545) / 2]) / 1000
    assert float(one["U_simulated_mm"]) == pytest.approx((high - low) / 2, rel=0.01)
    assert float(one["high_mm"]) == pytest.approx(high, rel=0.02)
    assert float(one["low_mm"]) == pytest.approx(low, rel=0.02)


def test_the_same_content_gives_the_same_figures(lab: Lab) -> None:
    laboratory.caliper_model(lab)
    trials = try_out(caliper(), lab.family, NOW)
    first = simulate_trials(caliper(), "0123456789abcdef" + "0" * 48, trials)
    _compared.cache_clear()
    assert simulate_trials(caliper(), "0123456789abcdef" + "f" * 48, trials) == first
    other = simulate_trials(caliper(), "1123456789abcdef" + "0" * 48, trials)
    assert other["rows"][0]["low_mm"] != first["rows"][0]["low_mm"]


def test_a_budget_that_first_order_describes_badly_is_seen(
    lab: Lab, draft: Callable[..., Revision], client: Client
) -> None:
    laboratory.caliper_model(lab, limit_mm="1")
    # A rectangle that all but dominates (the rest is 0.33 of it, the rule ends at 0.3) is taken for normal.
    beam = {"kind": "constant", "name": "beam", "size_mm": "0.035"}
    row = draft(content=replace(caliper(), budget=(*caliper().budget, beam)))
    client.force_login(lab.reviewer)
    page = client.get(reverse("revision-approve", args=[row.pk])).content.decode()
    outside = rows_of(approve(row, lab))["outside", "calibration"]
    assert outside["is_far_off"] and not outside["is_validated"] and outside["is_settled"]
    # By hand: u = √(20.2² + 6.6²) = 21.3 µm, k = 2; the sum of a rectangle ±35 and a rest of 6.6 covers 95.45 % at
    # about ±38, see the draws above.
    assert float(outside["U_mm"]) == pytest.approx(0.0426, abs=0.0003)
    assert -0.15 < float(outside["share"]) < -0.05
    far = sum("<b>\N{MINUS SIGN}" in one for one in _table(page))
    assert far >= 5 and f"More than 5 % apart in {far} rows" in page
    # Which U is the one to state, and that the bench goes on with the other, stands where it is signed.
    first = next(one for one in _table(page) if "outside" in one)
    assert f"<b>{float(outside['U_simulated_mm']):.4f}" in first
    assert f"<b>{float(outside['U_mm']):.4f}" not in first
    assert (
        "the U to state is the simulated one" in page
        and "results under this revision get U by first order" in page
    )


def test_too_little_freedom_to_simulate_is_said_and_stops_nothing(
    lab: Lab, draft: Callable[..., Revision], client: Client
) -> None:
    laboratory.caliper_model(lab)
    study = caliper().repeatability
    assert study is not None
    row = draft(content=replace(caliper(), repeatability=replace(study, degrees_of_freedom=2)))
    client.force_login(lab.reviewer)
    page = client.get(reverse("revision-approve", args=[row.pk])).content.decode()
    assert "<b>Not simulated.</b> Expected more than two degrees of freedom" in page
    assert "more than two degrees" in rows_of(approve(row, lab))["outside", "calibration"]["why"]


def test_the_page_shows_before_signing_what_is_kept_with_the_signature(
    lab: Lab, draft: Callable[..., Revision], client: Client
) -> None:
    laboratory.caliper_model(lab)
    laboratory.caliper_model(lab, inch=True)
    row = draft()
    client.force_login(lab.reviewer)
    address = reverse("revision-approve", args=[row.pk])
    before = client.get(address).content.decode()
    assert row.content_sha256[:16] in before and "two significant digits" in before
    typed = {"password": PASSWORD, "seen_sha256": row.content_sha256}
    assert client.post(address, typed).status_code == 302
    after = client.get(reverse("revision", args=[row.pk])).content.decode()
    assert _table(before) == _table(after)
    row.refresh_from_db()
    assert row.comparison is not None
    # Two models, five functions, two uncertainties.
    assert len(_table(after)) == len(row.comparison["rows"]) == 20
    first = row.comparison["rows"][0]
    for name in ("U_mm", "U_simulated_mm"):
        assert f"{float(first[name]):.4f}" in _table(after)[0]


def _table(page: str) -> list[str]:
    (section,) = re.findall(r'<section class="stack" id="comparison".*?</section>', page, re.DOTALL)
    return [
        html.unescape(one) for one in re.findall(r"<tr>\s*<th scope=\"row\">.*?</tr>", section, re.DOTALL)
    ]


def test_without_limits_there_is_no_point_and_the_page_says_so(
    lab: Lab, draft: Callable[..., Revision], client: Client
) -> None:
    row = draft()
    client.force_login(lab.reviewer)
    page = client.get(reverse("revision-approve", args=[row.pk])).content.decode()
    assert "so there was no point to simulate" in page
    approved = approve(row, lab)
    assert approved.comparison is not None and approved.comparison["rows"] == []


def test_where_none_was_kept_none_is_shown(lab: Lab, draft: Callable[..., Revision], client: Client) -> None:
    laboratory.caliper_model(lab)
    row = draft()
    assert row.comparison is None and comparison_table(None) is None
    client.force_login(lab.auditor)
    assert "First order against" not in client.get(reverse("revision", args=[row.pk])).content.decode()


def test_its_hash_is_in_the_journal_and_the_database_keeps_it_as_it_was(
    lab: Lab, draft: Callable[..., Revision]
) -> None:
    laboratory.caliper_model(lab)
    row = approve(draft(), lab)
    row.refresh_from_db()
    entry = JournalEntry.objects.get(subject=f"revision:{row.pk}", act="procedures.approve-revision")
    assert hash_of(canonical(row.comparison)) in str(entry.after)
    with pytest.raises(DatabaseError), transaction.atomic():
        Revision.objects.filter(pk=row.pk).update(comparison={"rows": []})
    with pytest.raises(DatabaseError), transaction.atomic():
        Revision.objects.filter(pk=row.pk).update(comparison=None)
