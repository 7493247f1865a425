"""The chain upward: three levels, every link at the date it was relied on, and every way it breaks."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from labsys.accounts.models import Person
from standards.register import operations as register
from standards.register.models import Calibration, Standard
from standards.register.queries import elements_at, value_in_force
from standards.traceability import operations as acts
from standards.traceability import queries
from standards.traceability.models import Accreditation, CertificateReceived, Reliance
from standards.traceability.operations import AccreditationData
from standards.traceability.queries import LinkCheck, Node, chain_of, faults_of
from tests.standards.conftest import REGISTERED, at, values

D = Decimal
USED = at("2024-09-02")
Make = Callable[..., Calibration]


def codes(node: Node) -> list[str]:
    return [fault.code for fault in faults_of(node)]


def link(node: Node, code: str) -> LinkCheck:
    return next(check for check in node.links if check.code == code)


def test_three_levels_hold_and_end_at_the_accredited_laboratory(working: Calibration) -> None:
    node = chain_of(working, USED)
    tags = [(str(one.calibration.standard.tag), one.depth, one.is_terminus) for one in node.walk()]
    assert tags == [("GB-03", 0, False), ("GB-02", 1, False), ("GB-01", 2, True)]
    assert faults_of(node) == ()
    assert node.holds
    assert queries.require_unbroken([working], USED)[0] == node


def test_each_level_is_checked_at_the_day_it_was_relied_on(working: Calibration) -> None:
    node = chain_of(working, USED)
    assert [one.use.day for one in node.walk()] == [date(2024, 9, 2), date(2024, 8, 1), date(2024, 5, 1)]
    # A year later the master is overdue, but it wasn't when it was relied on.
    later = chain_of(working, at("2025-07-01"))
    assert faults_of(later) == ()


def test_what_nothing_checks_yet_is_never_passed(working: Calibration) -> None:
    for node in chain_of(working, USED).walk():
        assert [check.code for check in node.links] == ["L1", "L2", "L3", "L4", "L5", "L6", "L7", "L8", "L10"]
        for code in ("L6", "L7", "L10"):
            assert link(node, code).holds is None
            assert "not checked yet" in link(node, code).sentence.lower()
        assert all(link(node, code).holds for code in ("L1", "L2", "L3", "L4", "L5", "L8"))


def test_the_chain_costs_the_same_however_many_rely(
    working: Calibration, in_house: Make, master: Calibration, django_assert_max_num_queries: Any
) -> None:
    for number in range(4, 8):
        in_house(f"GB-0{number}", "2024-06-01", master)
    wide = in_house("GB-09", "2024-08-01", *Calibration.objects.filter(calibrated_on="2024-06-01"))
    with django_assert_max_num_queries(10):
        node = chain_of(wide, USED)
        assert len(list(node.walk())) == 9
        assert node.holds


def test_overdue_at_the_time_of_use(working: Calibration) -> None:
    assert "F01" not in codes(chain_of(working, at("2025-08-01", 23)))
    node = chain_of(working, at("2025-08-02", 0))
    assert codes(node) == ["F01"]
    assert link(node, "L2").sentence == "Overdue on 2025-08-02: it held through 2025-08-01."
    with pytest.raises(queries.ChainBroken, match="GB-03 is broken on 2025-08-02: Overdue") as refused:
        queries.require_unbroken([working], at("2025-08-02", 0))
    assert [fault["code"] for fault in refused.value.data["faults"]] == ["F01"]


def test_overdue_above_breaks_the_chain_below(master: Calibration, in_house: Make) -> None:
    late = in_house("GB-02", "2025-02-02", master)
    node = chain_of(late, at("2025-03-01"))
    assert codes(node) == ["F01"]
    assert (node.holds, node.holds_here, link(node, "L4").holds) == (False, True, False)
    with pytest.raises(queries.ChainBroken, match="GB-02"):
        queries.require_unbroken([late], at("2025-03-01"))


def test_used_before_it_was_reviewed(working: Calibration) -> None:
    node = chain_of(working, at("2024-08-01", 12))
    assert codes(node)[0] == "F04"
    assert link(node, "L3").holds is False


def test_used_before_it_was_calibrated(master: Calibration) -> None:
    assert "F27" in codes(chain_of(master, at("2024-01-31")))


def test_rejected_is_never_relied_on(blocks: Standard, calibrate: Make, reviewer: Person) -> None:
    row = calibrate(blocks, "2024-02-01", accepted=None)
    register.mark_rejected(calibration=row, by=reviewer, now=at("2024-02-02"))
    row.refresh_from_db()
    assert link(chain_of(row, at("2024-03-01")), "L3").sentence == "It was rejected at its review."


def test_put_to_use_without_a_review_of_its_certificate(
    scope: Accreditation, blocks: Standard, receive: Callable[..., CertificateReceived], reviewer: Person
) -> None:
    certificate = receive(blocks)
    register.mark_accepted(calibration=certificate.calibration, by=reviewer, now=at("2024-02-06"))
    assert codes(chain_of(certificate.calibration, at("2024-03-01"))) == ["F04"]


def test_a_newer_calibration_takes_over_from_its_acceptance_on(
    master: Calibration, calibrate: Make, in_house: Make, technician: Person
) -> None:
    newer = calibrate(master.standard, "2024-10-01", accepted="2024-10-08")
    acts.rely_on(calibration=newer, upstream=(in_house("GB-07", "2024-09-01", master, u="0.0001"),),
                 by=technician, now=at("2024-10-08"))  # fmt: skip
    assert codes(chain_of(master, at("2024-10-08", 12))) == []
    assert codes(chain_of(master, at("2024-10-08", 14))) == ["F13"]
    assert link(chain_of(master, at("2024-10-08", 14)), "L8").holds is False


def test_the_values_used_must_be_those_in_force(master: Calibration, calibrate: Make) -> None:
    only = tuple(one for one in values(master.standard) if one.element.label == "25")
    calibrate(master.standard, "2024-10-01", given=only)
    at_use = at("2024-11-01")
    old = {value.element.label: value for value in master.values.all()}
    undecided = link(chain_of(master, at_use), "L8")
    assert undecided.holds is None
    assert "1 of 3 values had been replaced" in undecided.sentence
    assert codes(chain_of(master, at_use, (old["10"], old["100"]))) == []
    assert codes(chain_of(master, at_use, (old["10"], old["25"]))) == ["F13"]
    assert "the value of 25" in link(chain_of(master, at_use, (old["25"],)), "L8").sentence
    new = value_in_force(old["25"].element, at_use)
    assert new is not None
    assert codes(chain_of(master, at_use, (new,))) == ["F13"]
    assert queries.require_unbroken([master], at_use, [old["10"]])
    with pytest.raises(queries.ChainBroken, match="Not from this calibration"):
        queries.require_unbroken([master], at_use, [old["10"], new])
    with pytest.raises(queries.ChainBroken, match="Replaced before"):
        queries.require_unbroken([master], at_use, [old["25"]])


def test_out_of_service_at_the_time_of_use(working: Calibration, technician: Person) -> None:
    now = at("2024-09-01")
    register.change_state(
        standard=working.standard, state="out-of-service", reason="Dropped.", by=technician, now=now
    )
    assert codes(chain_of(working, at("2024-08-31"))) == []
    node = chain_of(working, USED)
    assert codes(node) == ["F02"]
    assert link(node, "L7").holds is False


def test_sent_away_on_the_evening_of_its_use_was_in_service_that_day(
    master: Calibration, in_house: Make, technician: Person
) -> None:
    below = in_house("GB-02", "2024-05-01", master)
    register.change_state(
        standard=master.standard, state="away", reason="Sent.", by=technician, now=at("2024-05-01", 18)
    )
    assert codes(chain_of(below, USED)) == []
    late = in_house("GB-04", "2024-05-02", master)
    assert codes(chain_of(late, USED)) == ["F02"]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda path: path.write_bytes(path.read_bytes() + b" "), "was changed since it was received"),
        (lambda path: path.unlink(), "is missing from the store"),
    ],
)
def test_a_file_that_is_not_the_one_that_came(
    change: Callable[[Path], None], said: str, working: Calibration, settings: Any
) -> None:
    assert chain_of(working, USED).holds
    certificate = CertificateReceived.objects.get()
    change(Path(settings.MEDIA_ROOT) / str(certificate.file.name))
    node = chain_of(working, USED)
    assert codes(node) == ["F03"]
    terminus = node.upstream[0].upstream[0]
    assert said in link(terminus, "L1").sentence
    with pytest.raises(queries.ChainBroken, match="N-1"):
        queries.require_unbroken([working], USED)


def test_no_file_and_another_serial(
    scope: Accreditation, blocks: Standard, receive: Callable[..., CertificateReceived]
) -> None:
    row = receive(blocks, file=None, serial_on_certificate="4712").calibration
    assert codes(chain_of(row, at("2024-02-05")))[:2] == ["F03", "F05"]
    same = receive(blocks, number="N-2", serial_on_certificate=" 47 11 ").calibration
    assert "F05" not in codes(chain_of(same, at("2024-02-05")))


def test_in_house_without_anything_behind_it(blocks: Standard, calibrate: Make) -> None:
    row = calibrate(blocks, "2024-02-01", evidence="")
    assert codes(chain_of(row, at("2024-03-01"))) == ["F03", "F20"]


def test_u_may_not_shrink_going_down(master: Calibration, in_house: Make) -> None:
    node = chain_of(in_house("GB-02", "2024-05-01", master, u="0.00009"), USED)
    assert codes(node) == ["F12"]
    assert "10, 25, 100" in link(node, "L5").sentence
    # Rounding may take 5 %, no more; and U counts at k = 2 on both sides.
    assert codes(chain_of(in_house("GB-04", "2024-05-01", master, u="0.000095"), USED)) == []
    assert codes(chain_of(in_house("GB-05", "2024-05-01", master, u="0.0000949"), USED)) == ["F12"]


def test_u_is_compared_at_the_same_coverage(master: Calibration, in_house: Make, blocks: Standard) -> None:
    tripled = in_house("GB-06", "2024-05-01", master, given=None, u="0.00012")
    assert codes(chain_of(tripled, USED)) == []
    other = Standard.objects.get(tag__text="GB-06")
    at_three = in_house("GB-06", "2024-06-01", master, given=values(other, u="0.00012", k="3"))
    assert codes(chain_of(at_three, USED)) == ["F12"]


def test_u_larger_than_the_use_allows(
    make_standard: Callable[..., Standard], master: Calibration, in_house: Make
) -> None:
    make_standard("GB-08", wanted_u_constant_mm=D("0.0001"), wanted_u_per_length=D("0.000001"))
    node = chain_of(in_house("GB-08", "2024-05-01", master, u="0.00015"), USED)
    assert codes(node) == ["Q5"]
    assert "allows for 10, 25." in link(node, "L5").sentence


def test_a_circle_is_cut_and_named(master: Calibration, reference: Calibration) -> None:
    # The acts refuse circles; rows that came another way must not hang the page.
    Reliance.objects.create(calibration=master, upstream=reference, recorded_at=REGISTERED)
    node = chain_of(reference, USED)
    assert [str(one.calibration.standard.tag) for one in node.walk()] == ["GB-02", "GB-01"]
    assert "F19" in codes(node)
    assert not node.holds
    assert "F19" in codes(chain_of(master, USED))


def test_lapsed_at_the_calibration_date_counts_and_lapsed_now_does_not(
    working: Calibration, scope: Accreditation, manager: Person
) -> None:
    def withdraw(day: str) -> None:
        acts.withdraw_accreditation(
            accreditation=scope, valid_from=at(day), reason="Suspended.", by=manager, now=at("2024-09-01")
        )

    withdraw("2024-02-02")
    assert codes(chain_of(working, USED)) == []


def test_an_accreditation_withdrawn_before_the_calibration_breaks_every_chain_below(
    working: Calibration, scope: Accreditation, manager: Person
) -> None:
    acts.withdraw_accreditation(
        accreditation=scope,
        valid_from=at("2024-02-01"),
        reason="Suspended.",
        by=manager,
        now=at("2024-09-01"),
    )
    node = chain_of(working, USED)
    assert codes(node) == ["F08"]
    terminus = list(node.walk())[-1]
    assert (terminus.is_terminus, link(terminus, "L4").holds) == (False, False)
    assert "on the day of calibration, 2024-02-01" in link(terminus, "L4").sentence


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ({"lapses_on": date(2024, 2, 1)}, []),
        ({"lapses_on": date(2024, 1, 31)}, ["F08"]),
        ({"valid_from": at("2024-02-02")}, ["F08"]),
        ({"quantity": "ring"}, ["F08"]),
        ({"range_high_mm": D("99")}, ["F08"]),
        ({"range_low_mm": D("10.1")}, ["F08"]),
        ({"cmc_constant_mm": D("0.0002")}, ["F11", "F11", "F11"]),
        ({"cmc_per_length": D("0.0000006")}, ["F11"]),
        ({"cmc_per_length": D("0.00000055")}, []),
    ],
)
def test_the_scope_must_cover_day_service_range_and_u(
    changes: dict[str, Any],
    found: list[str],
    laboratory: Any,
    scope_data: AccreditationData,
    manager: Person,
    blocks: Standard,
    receive: Callable[..., CertificateReceived],
) -> None:
    from dataclasses import replace

    acts.record_accreditation(
        issuer=laboratory, data=replace(scope_data, **changes), by=manager, now=REGISTERED
    )
    row = receive(blocks).calibration
    assert [fault.code for fault in queries.review_faults(row, at("2024-02-05"))] == found


def test_a_new_cmc_supersedes_the_line_from_its_day_on(
    scope: Accreditation,
    scope_data: AccreditationData,
    manager: Person,
    blocks: Standard,
    receive: Callable[..., CertificateReceived],
) -> None:
    from dataclasses import replace

    worse = replace(scope_data, cmc_constant_mm=D("0.001"), valid_from=at("2024-03-01"))
    acts.record_accreditation(issuer=scope.issuer, data=worse, by=manager, now=at("2024-03-01"))
    before = receive(blocks, now=at("2024-05-01")).calibration
    after = receive(
        blocks, number="N-2", calibrated_on=date(2024, 3, 1), issued_on=date(2024, 3, 1), now=at("2024-05-01")
    ).calibration
    assert queries.review_faults(before, at("2024-05-01")) == ()
    assert [fault.code for fault in queries.review_faults(after, at("2024-05-01"))] == ["F11"] * 3


def test_without_the_mark_is_a_warning(
    scope: Accreditation,
    blocks: Standard,
    receive: Callable[..., CertificateReceived],
    review: Callable[..., Any],
) -> None:
    certificate = receive(blocks, accreditation_mark=False)
    review(certificate)
    node = chain_of(Calibration.objects.get(pk=certificate.calibration_id), at("2024-03-01"))
    assert [(fault.code, fault.level) for fault in faults_of(node)] == [("F09", "warn")]
    assert node.holds


def test_a_replaced_block_keeps_the_chain_of_its_set(master: Calibration) -> None:
    rows = elements_at(master.standard, USED)
    assert [one.value.calibration_id for one in rows if one.value] == [master.pk] * 3
