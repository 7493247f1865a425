"""A draft tried on past sessions: what would come out otherwise and why, and keeping it as evidence."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from instruments.inventory.models import Gauge, GaugeModel
from instruments.measuring.dry_run import Tried, read_back, try_on_past
from instruments.measuring.dry_run.keeping import Asked, OutcomeMovedOn, keep_outcome
from instruments.measuring.models import Point, Reading, Result, Session, Submission
from instruments.procedures.content import Content, dump
from instruments.procedures.models import ProcedureValidation, Revision
from instruments.procedures.operations import NoLongerDraft, approve_revision, change_draft, draft_revision
from instruments.procedures.validating import AlreadyKept, NothingTried
from labsys.journal.models import JournalEntry
from labsys.journal.roles import NotAllowed
from labsys.metrology.exact import plain
from tests import laboratory
from tests.bench import MORNING, Player
from tests.families import Piece, Workplace, hand_in, read_at, text_of
from tests.laboratory import Lab

LATER = MORNING + timedelta(days=30)
D = Decimal


@pytest.fixture
def handed_in(player: Player) -> Submission:
    """A caliper measured under revision 1, every error two steps but at the longest: on its limit of 0.03 mm."""
    player.begin()
    longest = max(point.nominal_mm for point in player.points())
    player.read_off(lambda point: 3 if point.nominal_mm == longest else 1)
    return player.finish()


@pytest.fixture
def draft(lab: Lab) -> Callable[..., Revision]:
    """Draft revision 2: the shipped content with some parts replaced."""

    def make(**changes: Any) -> Revision:
        content: Content = laboratory.shipped(**changes)
        return draft_revision(
            procedure=lab.revision.procedure,
            content_text=dump(content),
            change="a wider budget",
            by=lab.technician,
            now=LATER,
        )

    return make


PLAY = {"kind": "constant", "name": "play of the slide", "size_mm": "0.005", "source": "made up for a test"}


def test_the_same_content_comes_to_what_was_stored(
    handed_in: Submission, draft: Callable[..., Revision]
) -> None:
    tried = try_on_past(draft(scope="the same in other words"), 20)
    assert tried.result_count == Result.objects.count() > 5
    assert [line.why for line in tried.lines if line.changes] == []
    assert (tried.changed_count, tried.largest_U_percent, tried.open_count) == (0, 0.0, 0)
    assert tried.sessions[0].verdict_then == tried.sessions[0].verdict_now == "in_tolerance"


def test_another_coverage_changes_u_and_says_that_it_is_k(
    handed_in: Submission, draft: Callable[..., Revision]
) -> None:
    tried = try_on_past(draft(probability=0.9973), 20)
    line = next(line for line in tried.lines if line.label.startswith("Outside"))
    stored = Result.objects.filter(kind="error", function="outside").first()
    assert stored is not None and line.then.U_mm == f"{stored.U_mm.normalize():f}"
    assert line.U_percent is not None and line.U_percent > 20
    assert line.why.count("k is ") >= 1 and " instead of " in line.why
    assert tried.largest_U_percent == max(one.U_percent or 0 for one in tried.lines)


def test_a_verdict_that_changes_is_counted_and_explained(
    handed_in: Submission, draft: Callable[..., Revision]
) -> None:
    guarded = {"kind": "guarded", "g": "1", "view": "calibration"}
    revision = draft(rule=guarded)
    # By the rules agreed nothing moves, and the outcome says that they aren't the draft's.
    agreed = try_on_past(revision, 20)
    assert (agreed.changed_count, agreed.other_rule_count) == (0, 1)
    own = try_on_past(revision, 20, own_rule=True)
    longest = Result.objects.filter(verdict="in_tolerance", value_mm="0.03").count()
    assert own.changed_count == longest > 0
    changed = [line for line in own.lines if line.verdict_changes]
    assert {(one.then.verdict, one.now.verdict) for one in changed} == {("in_tolerance", "not_accepted")}
    assert changed[0].why.startswith(
        "Not accepted instead of in tolerance. Decided by the calibration uncertainty instead of the test value"
    )
    assert "Accepted is " in changed[0].why and "instead of −0.03 to +0.03 mm." in changed[0].why
    assert own.sessions[0].verdict_now == "not_accepted"


def test_the_component_that_moves_u_most_is_named(
    handed_in: Submission, draft: Callable[..., Revision]
) -> None:
    tried = try_on_past(draft(budget=(*laboratory.shipped().budget, PLAY)), 20)
    line = next(line for line in tried.lines if line.label.startswith("Outside"))
    # A constant of ±5 µm is rectangular: 5 / √3 = 2.89 µm (JCGM 100:2008, 4.3.7).
    assert "The calibration uncertainty is larger (" in line.why
    assert "most by “play of the slide”: none before, 2.89\N{NO-BREAK SPACE}µm now." in line.why
    assert D(line.now.U_mm) > D(line.then.U_mm)


def test_a_narrower_spread_would_reject(
    lab: Lab, gauge: Gauge, sit: Callable[..., Player], draft: Callable[..., Revision]
) -> None:
    player = sit(gauge)
    player.begin()
    for point in player.points():
        for steps in (0, 1):
            player.read(point, f"{plain(point.nominal_mm + gauge.model.resolution * steps):f}")
    player.finish()
    tried = try_on_past(draft(spread_limit_mm=D("0.005")), 20)
    assert tried.rejection_count == tried.result_count > 0
    line = next(tried.lines)
    assert "spread over 0.01 mm, more than the draft allows (0.005 mm)" in line.why
    assert (line.then.is_rejected, line.now.is_rejected) == (False, True)
    assert (tried.sessions[0].verdict_then, tried.sessions[0].verdict_now) == ("in_tolerance", "not_accepted")


def test_points_the_draft_would_not_have_planned_leave_its_rules_open(
    handed_in: Submission, draft: Callable[..., Revision]
) -> None:
    rules = laboratory.shipped().points
    assert rules is not None
    bands = tuple(replace(band, least_points=band.least_points + 4) for band in rules.bands)
    tried = try_on_past(draft(points=replace(rules, bands=bands), repeats=3), 20)
    said = " ".join(tried.sessions[0].open_rules)
    assert tried.open_count == 1
    assert f"{rules.bands[0].least_points + 4}" in said
    assert "fewer readings than the draft asks for (3)" in said


def test_what_the_draft_no_longer_measures_is_listed_as_not_judged(
    handed_in: Submission, draft: Callable[..., Revision]
) -> None:
    rules = laboratory.shipped().points
    assert rules is not None
    windows = {name: window for name, window in rules.windows.items() if name != "depth"}
    tried = try_on_past(draft(points=replace(rules, windows=windows)), 20)
    unjudged = [line for line in tried.lines if line.judged == "not-judged"]
    assert len(unjudged) == tried.unjudged_count == Result.objects.filter(function="depth").count() > 0
    assert unjudged[0].why == "The draft measures nothing under the code depth."
    assert tried.changed_count == 0


def test_what_the_rule_finds_too_uncertain_gets_no_verdict_but_its_u(
    handed_in: Submission, draft: Callable[..., Revision]
) -> None:
    # U of the test value grows to about 29 µm, more than a quarter of ±30 µm.
    play = {**PLAY, "size_mm": "0.025"}
    tried = try_on_past(draft(budget=(*laboratory.shipped().budget, play)), 20)
    refused = [line for line in tried.lines if line.judged == "refused"]
    assert len(refused) == tried.refused_count > 0
    assert (refused[0].then.verdict, refused[0].now.verdict) == ("in_tolerance", "")
    assert "ratio" in refused[0].why
    assert D(refused[0].now.U_mm) > D("0.028") and refused[0].U_percent is not None
    assert tried.changed_count == 0


def test_what_changed_besides_the_draft_is_not_laid_at_its_door(
    handed_in: Submission, draft: Callable[..., Revision]
) -> None:
    GaugeModel.objects.filter(pk=handed_in.session.gauge.model_id).update(resolution="0.02")
    tried = try_on_past(draft(scope="the same in other words"), 20)
    changed = [line for line in tried.lines if line.changes]
    assert changed
    assert all("Not all of this is the draft's" in line.why for line in changed)


INDICATOR = text_of(
    [
        {
            "code": "travel", "name": "Travel", "needs": "travel", "serves": "travel",
            "lengths": {"kind": "shares", "of_range": ["0", "0.2", "0.5", "1"]},
            "directions": ["up", "down"], "reading_rule": "Approach from one side.",
            "results": [
                {"kind": "span", "limit": "span_up", "name": "Error span, going up", "direction": "up"},
                {"kind": "span", "limit": "span", "name": "Error span, both directions"},
                {"kind": "hysteresis", "limit": "hysteresis", "name": "Hysteresis"},
            ],
        },
    ],
    zero={"fixed": False, "allowed_steps": 1, "how": "reference"},
    readable_parts={"dial": 5},
)  # fmt: skip


def measured_indicator(lab: Lab) -> Session:
    """Measure an indicator that reads true everywhere, and hand it in."""
    place = Workplace(
        lab, "indicator", INDICATOR,
        limits={"span_up": (None, "0.015"), "span": (None, "0.02"), "hysteresis": (None, "0.006")},
        model={"indication": "dial", "resolution": D("0.01"), "range_low_mm": D(0), "range_high_mm": D(10),
               "functions": ("travel",), "unit": "mm"},
    )  # fmt: skip
    place.standard("IT-01", "tester", [Piece("spindle", "25", ("travel",), continuous=True)])
    player = place.sit(place.gauge("D-0001"))
    player.look()
    player.room()
    player.zero("as-found", "0")
    player.zero("set", "0")
    for point in player.points():
        read_at(player, point, D(0), INDICATOR)
    player.zero("closing", "0")
    hand_in(player)
    return player.session


def test_results_of_several_points_are_laid_beside_each_other(lab: Lab) -> None:
    session = measured_indicator(lab)
    changed = json.loads(INDICATOR)
    del changed["series"][0]["results"][1]
    revision = draft_revision(
        procedure=session.revision.procedure,
        content_text=json.dumps({**changed, "probability": "0.9973"}),
        change="no span over both directions",
        by=lab.technician,
        now=LATER,
    )
    tried = try_on_past(revision, 20)
    common = {
        line.label: line for line in tried.lines if line.kind in ("span", "section", "hysteresis", "spread")
    }
    assert common["Error span, both directions"].judged == "not-judged"
    assert common["Error span, both directions"].why == "The draft has no such result."
    assert common["Error span, going up"].judged == "again"
    assert (common["Error span, going up"].U_percent or 0) > 20
    assert tried.unjudged_count == 1
    assert tried.added_count == 0


def test_nothing_is_stored_in_the_sessions(handed_in: Submission, draft: Callable[..., Revision]) -> None:
    revision = draft(probability=0.9973)
    before = [list(model.objects.order_by("pk").values()) for model in (Session, Point, Reading, Result)]
    try_on_past(revision, 50, own_rule=True)
    assert before == [
        list(model.objects.order_by("pk").values()) for model in (Session, Point, Reading, Result)
    ]
    assert ProcedureValidation.objects.count() == 0


def test_only_sessions_handed_in_count_and_the_newest_come_first(
    lab: Lab, gauge: Gauge, sit: Callable[..., Player], draft: Callable[..., Revision]
) -> None:
    sessions = []
    for number in range(3):
        one = gauge if number == 0 else laboratory.caliper_gauge(lab, gauge.model, tag=f"C-100{number}")
        player = sit(one, at=MORNING + timedelta(days=number))
        if number < 2:
            player.begin()
            player.read_off()
            player.finish()
        sessions.append(player.session)
    revision = draft(probability=0.9973)
    assert [one.session for one in try_on_past(revision, 20).sessions] == [sessions[1].pk, sessions[0].pk]
    newest = try_on_past(revision, 1)
    assert ([one.session for one in newest.sessions], newest.past_count) == ([sessions[1].pk], 2)


def test_reading_more_sessions_asks_no_more_questions_of_the_tables(
    lab: Lab,
    gauge: Gauge,
    sit: Callable[..., Player],
    draft: Callable[..., Revision],
    django_assert_max_num_queries: Any,
) -> None:
    for number in range(4):
        one = gauge if number == 0 else laboratory.caliper_gauge(lab, gauge.model, tag=f"C-100{number}")
        player = sit(one, at=MORNING + timedelta(days=number))
        player.begin()
        player.read_off()
        player.finish()
    revision = draft(probability=0.9973)
    with django_assert_max_num_queries(30):
        assert len(try_on_past(revision, 20).sessions) == 4


def test_an_outcome_reads_back_as_it_was_kept(handed_in: Submission, draft: Callable[..., Revision]) -> None:
    tried = try_on_past(draft(probability=0.9973), 20)
    again: Tried = read_back(tried.dump())
    assert again == tried
    assert again.sha256 == tried.sha256


def keep(lab: Lab, revision: Revision, **other: Any) -> ProcedureValidation:
    """Keep the outcome on the newest 20 as the reviewer."""
    tried = try_on_past(revision, 20)
    given = {"seen_sha256": tried.sha256, "by": lab.reviewer, "now": LATER, **other}
    return keep_outcome(revision=revision, asked=Asked(20, own_rule=False), **given)


def test_an_outcome_is_kept_once_with_the_journal(
    lab: Lab, handed_in: Submission, draft: Callable[..., Revision]
) -> None:
    revision = draft(probability=0.9973)
    kept = keep(lab, revision)
    assert (kept.session_count, kept.changed_count, kept.rule) == (1, 0, "agreed")
    assert kept.content_sha256 == revision.content_sha256
    entry = JournalEntry.objects.filter(act="procedures.keep-validation").get()
    assert (entry.subject, entry.outcome) == (f"revision:{revision.pk}", "done")
    assert entry.after is not None and entry.after["record_sha256"] == kept.record_sha256
    with pytest.raises(AlreadyKept):
        keep(lab, revision)


def test_only_what_was_seen_is_kept(lab: Lab, handed_in: Submission, draft: Callable[..., Revision]) -> None:
    revision = draft(probability=0.9973)
    seen = try_on_past(revision, 20).sha256
    changed = change_draft(
        revision=revision,
        content_text=dump(laboratory.shipped(probability=0.99)),
        change="another",
        by=lab.technician,
        now=LATER,
    )
    with pytest.raises(OutcomeMovedOn, match="Try it again"):
        keep(lab, changed, seen_sha256=seen)


def test_who_may_not_approve_keeps_nothing(
    lab: Lab, handed_in: Submission, draft: Callable[..., Revision]
) -> None:
    revision = draft(probability=0.9973)
    with pytest.raises(NotAllowed):
        keep(lab, revision, by=lab.technician)
    assert ProcedureValidation.objects.count() == 0


def test_no_session_is_no_evidence(lab: Lab, gauge: Gauge, draft: Callable[..., Revision]) -> None:
    with pytest.raises(NothingTried):
        keep(lab, draft(probability=0.9973))


def test_an_approved_revision_is_not_tried_any_more(
    lab: Lab, handed_in: Submission, draft: Callable[..., Revision], client: Client
) -> None:
    revision = draft(probability=0.9973)
    approve_revision(
        revision=revision, proof=laboratory.proof(lab.reviewer, LATER), by=lab.reviewer, now=LATER
    )
    with pytest.raises(NoLongerDraft):
        keep(lab, revision)
    client.force_login(lab.reviewer)
    assert client.get(reverse("revision-dry-run", args=[revision.pk])).status_code == 409


# Pages.


def test_the_page_tries_keeps_and_the_others_say_so(
    lab: Lab, handed_in: Submission, draft: Callable[..., Revision], client: Client
) -> None:
    revision = draft(rule={"kind": "guarded", "g": "1", "view": "calibration"})
    client.force_login(lab.reviewer)
    address = reverse("revision-dry-run", args=[revision.pk])
    for page in ("revision", "revision-approve"):
        text = client.get(reverse(page, args=[revision.pk])).content.decode()
        assert "not tried; it can be approved without" in text and address in text
    assert "handed in under earlier revisions" in client.get(address).content.decode()
    answer = client.get(f"{address}?sessions=20&rule=own")
    tried = answer.context["tried"]
    assert tried.changed_count > 0
    assert "Not accepted instead of in tolerance." in answer.content.decode()
    sent = {"sessions": "20", "rule": "own", "seen": tried.sha256}
    kept = client.post(address, sent, follow=True)
    assert "Kept as evidence by" in kept.content.decode()
    row = ProcedureValidation.objects.get()
    assert row.changed_count == tried.changed_count
    for page in ("revision", "revision-approve"):
        text = client.get(reverse(page, args=[revision.pk])).content.decode()
        assert "tried on 1 past session</a>" in text
        assert f"{tried.changed_count} verdict" in text
        assert reverse("revision-validation", args=[row.pk]) in text


def test_a_draft_changed_since_was_not_tried(
    lab: Lab, handed_in: Submission, draft: Callable[..., Revision], client: Client
) -> None:
    revision = draft(probability=0.9973)
    row = keep(lab, revision)
    change_draft(
        revision=revision,
        content_text=dump(laboratory.shipped(probability=0.99)),
        change="another",
        by=lab.technician,
        now=LATER,
    )
    client.force_login(lab.reviewer)
    text = client.get(reverse("revision-approve", args=[revision.pk])).content.decode()
    assert "not as it is now" in text
    assert (
        "The draft was changed after this"
        in client.get(reverse("revision-validation", args=[row.pk])).content.decode()
    )


def test_an_approved_revision_names_its_evidence_or_that_there_is_none(
    lab: Lab, handed_in: Submission, draft: Callable[..., Revision], client: Client
) -> None:
    revision = draft(probability=0.9973)
    keep(lab, revision)
    approve_revision(
        revision=revision, proof=laboratory.proof(lab.reviewer, LATER), by=lab.reviewer, now=LATER
    )
    client.force_login(lab.auditor)
    assert (
        "tried on 1 past session</a>" in client.get(reverse("revision", args=[revision.pk])).content.decode()
    )
    first = client.get(reverse("revision", args=[lab.revision.pk])).content.decode()
    assert "not tried before it was approved" in first


def test_a_family_without_sessions_says_so(
    lab: Lab, gauge: Gauge, draft: Callable[..., Revision], client: Client
) -> None:
    client.force_login(lab.manager)
    text = client.get(reverse("revision-dry-run", args=[draft(probability=0.9973).pk])).content.decode()
    assert "Nothing was measured and handed in yet in the family" in text


def test_the_file_has_a_row_for_each_result_with_exact_lengths(
    lab: Lab, handed_in: Submission, draft: Callable[..., Revision], client: Client
) -> None:
    client.force_login(lab.manager)
    address = reverse("revision-dry-run", args=[draft(probability=0.9973).pk])
    answer = client.get(f"{address}?sessions=5&rule=agreed&as=csv")
    text = b"".join(answer.streaming_content).decode("utf-8-sig")  # type: ignore[attr-defined]
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == Result.objects.count()
    stored = Result.objects.order_by("pk").first()
    assert stored is not None
    assert D(rows[0]["U then (mm)"]) == stored.U_mm
    assert D(rows[0]["Error then (mm)"]) == stored.value_mm
    assert rows[0]["Verdict now"] == "in tolerance"
    assert D(rows[0]["Change of U (%)"]) > 20


@pytest.mark.parametrize("query", ["sessions=7", "sessions=20&rule=mine"])
def test_what_cannot_be_meant_is_refused(
    query: str, lab: Lab, handed_in: Submission, draft: Callable[..., Revision], client: Client
) -> None:
    client.force_login(lab.manager)
    answer = client.get(f"{reverse('revision-dry-run', args=[draft(probability=0.9973).pk])}?{query}")
    assert answer.status_code == 422
    assert answer.context["tried"] is None
