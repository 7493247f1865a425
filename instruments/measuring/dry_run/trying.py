"""A draft tried on the newest past sessions of its family.

Lives here: the way through sessions and runs. May not live here: judging, comparing, keeping.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import chain

from instruments.measuring.dry_run.comparing import NOT_THE_DRAFTS, Sides, drifted, lines_of
from instruments.measuring.dry_run.judging import ground_under, judge_run
from instruments.measuring.dry_run.leaving_open import left_open
from instruments.measuring.dry_run.past import PastRun, PastSession, past_sessions, read_past
from instruments.measuring.dry_run.record import AGREED, OWN, Line, SessionTried, Tried
from instruments.measuring.evaluation import ground_of
from instruments.procedures.content import Content
from instruments.procedures.models import Revision
from instruments.procedures.queries import content_of
from labsys.laboratory.queries import local_date
from labsys.metrology.rules import Rule


def try_on_past(revision: Revision, at_most: int, *, own_rule: bool = False) -> Tried:
    """Judge the readings of the newest ``at_most`` past sessions of a family as a revision's content would.

    By the rule that each session's owner had agreed on, as the bench would go on doing, or by the content's own
    (``own_rule``). Writes nothing. The same rows give the same result, whose hash so tells whether it moved on.
    """
    content = content_of(revision)
    past = read_past(revision, at_most)
    return Tried(
        procedure=revision.procedure.code,
        revision=revision.number,
        content_sha256=revision.content_sha256,
        rule=OWN if own_rule else AGREED,
        draft_rule=Rule.from_json(content.rule).words,
        asked=at_most,
        past_count=past_sessions(revision).count(),
        sessions=tuple(_session(one, revision, content, own_rule=own_rule) for one in past),
    )


def _session(past: PastSession, draft: Revision, content: Content, *, own_rule: bool) -> SessionTried:
    session, gauge = past.session, past.session.gauge
    sides = Sides(content_of(session.revision), content, gauge.model)
    ground = ground_under(past.runs[0].run, content, own_rule=own_rule)
    return SessionTried(
        session=session.pk,
        gauge=gauge.tag.text,
        model=str(gauge.model),
        revision=str(session.revision),
        opened_on=local_date(session.opened_at).isoformat(),
        rule=ground.decision_rule.words,
        lines=tuple(chain.from_iterable(_run(one, sides, own_rule=own_rule) for one in past.runs)),
        open_rules=left_open(past, draft),
    )


def _run(past: PastRun, sides: Sides, *, own_rule: bool) -> list[Line]:
    judged = judge_run(past, ground_under(past.run, sides.draft, own_rule=own_rule))
    again = f", attempt {past.run.attempt}" if past.run.attempt > 1 else ""
    lines = lines_of(past, judged, sides, f"{past.run.get_stage_display()}{again}")
    if not any(line.is_judged and line.changes for line in lines):
        return lines
    # What differs is laid at the draft's door only after the session's own revision was asked the same.
    moved = drifted(past.results, judge_run(past, ground_of(past.run)), sides.own)
    marked = [
        replace(line, why=f"{line.why} {NOT_THE_DRAFTS}")
        if result.pk in moved and line.is_judged and line.changes
        else line
        for line, result in zip(lines, past.results, strict=False)
    ]
    return [*marked, *lines[len(marked) :]]
