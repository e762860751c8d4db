"""What a tablet owes: kept at each contact, alarmed when it can no longer come, and never in the way of what can."""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import pytest

from app.domain.problems import NotFound, Refused
from app.domain.records import AlarmKind, TabletAlarm
from app.use_cases.enrol_tablet import retire_tablet
from app.use_cases.tablet_alarms import settle_alarm
from tests.builders import ADA, BEN, FAY, JOB
from tests.offices import Workshop
from tests.tablets import ATablet, a_tablet


def alarms(here: Workshop) -> list[TabletAlarm]:
    return [one for one in here.all("tablet_alarms") if one.settled_at is None]


def record(here: Workshop, tablet: ATablet) -> Any:
    return here.get("tablets", tablet.id)


def sent(tablet: ATablet, count: int) -> list[dict[str, Any]]:
    entries = [tablet.entry() for _ in range(count)]
    assert all(one["kept"] for one in tablet.answers(*entries))
    return entries


def noted(tablet: ATablet, count: int) -> list[dict[str, Any]]:
    """Made there and not sent."""
    return [tablet.entry() for _ in range(count)]


def test_what_it_says_is_kept(here: Workshop, tablet: ATablet) -> None:
    sent(tablet, 14)
    noted(tablet, 6)
    began = here.clock.now

    told = tablet.meets(range(15, 21), photos_waiting=2, now_ms=here.office.now_ms - 90_000)

    now = record(here, tablet)
    assert told["next_seq"] == 15
    assert (now.said_seq, now.waiting, now.waiting_from, now.photos_waiting, now.owes) == (20, 6, 15, 2, 6)
    assert (now.bundle, now.clock_offset_ms) == ("b" * 16, 90_000)
    assert (now.owes_since, now.said_at) == (began, began)
    here.clock.forward(minutes=10)
    tablet.meets(range(15, 21))
    assert record(here, tablet).owes_since == began
    assert alarms(here) == []


def test_when_all_has_come_it_owes_nothing(here: Workshop, tablet: ATablet) -> None:
    waiting = noted(tablet, 3)
    tablet.meets([1, 2, 3])
    tablet.answers(*waiting)
    assert record(here, tablet).owes == 0

    tablet.meets()

    assert (record(here, tablet).owes_since, record(here, tablet).waiting) == (None, 0)
    assert alarms(here) == []


def test_at_rest_a_contact_writes_no_more_than_when_it_was_heard(here: Workshop, tablet: ATablet) -> None:
    tablet.meets()
    seen = record(here, tablet)
    here.clock.forward(seconds=29)
    tablet.meets()
    assert record(here, tablet) == seen
    here.clock.forward(seconds=1)
    tablet.meets()
    assert record(here, tablet) == replace(seen, seen_at=here.clock.now, said_at=here.clock.now)


def test_entries_it_owed_and_has_no_more_are_an_alarm_and_the_queue_goes_on(here: Workshop, tablet: ATablet) -> None:
    """It owed 15 to 20 and now has none, though they never came."""
    tablet.signs_in(ADA)
    sent(tablet, 14)
    noted(tablet, 6)
    tablet.meets(range(15, 21), signed_in=BEN.id)
    since = here.clock.now
    here.clock.forward(hours=2)

    told = tablet.meets()

    [alarm] = alarms(here)
    assert (alarm.kind, alarm.count, alarm.first_seq, alarm.last_seq) == (AlarmKind.MISSING, 6, 15, 20)
    assert (alarm.since, alarm.people, alarm.raised_at) == (since, ("Ada", "Ben"), here.clock.now)
    assert told["next_seq"] == 21
    assert tablet.answers(tablet.entry())[0]["accepted"]
    tablet.meets()
    assert alarms(here) == [alarm]


def test_part_of_what_it_owed_is_lost_and_the_rest_comes(here: Workshop, tablet: ATablet) -> None:
    sent(tablet, 2)
    waiting = noted(tablet, 6)
    tablet.meets(range(3, 9))

    told = tablet.meets(range(6, 9))

    [alarm] = alarms(here)
    assert (alarm.count, alarm.first_seq, alarm.last_seq) == (3, 3, 5)
    assert told["next_seq"] == 6
    assert [one["kept"] for one in tablet.answers(*waiting[3:])] == [True] * 3


def test_a_tablet_that_comes_back_with_less_is_an_alarm(here: Workshop, tablet: ATablet) -> None:
    """Its maker's backup put it back: it has forgotten the numbers 15 to 20, and what was under them."""
    sent(tablet, 14)
    noted(tablet, 6)
    tablet.meets(range(15, 21))
    tablet.seq = 12

    told = tablet.meets()

    [alarm] = alarms(here)
    assert (alarm.kind, alarm.count, alarm.first_seq, alarm.last_seq) == (AlarmKind.WENT_BACK, 6, 15, 20)
    assert told["next_seq"] == 15
    # It takes up the office's number, as the pocket does with every answer.
    tablet.seq = told["next_seq"] - 1
    assert tablet.answers(tablet.entry())[0]["accepted"]
    tablet.meets()
    assert alarms(here) == [alarm]


def test_of_what_went_back_only_what_it_has_no_more_is_lost(here: Workshop, tablet: ATablet) -> None:
    sent(tablet, 14)
    waiting = noted(tablet, 6)
    tablet.meets(range(15, 21))
    tablet.seq = 16

    told = tablet.meets([15, 16])

    [alarm] = alarms(here)
    assert (alarm.kind, alarm.first_seq, alarm.last_seq) == (AlarmKind.WENT_BACK, 17, 20)
    assert told["next_seq"] == 15
    assert [one["kept"] for one in tablet.answers(*waiting[:2])] == [True, True]


def test_less_than_the_office_itself_has_is_an_alarm_though_nothing_is_known_lost(
    here: Workshop, tablet: ATablet
) -> None:
    """It has sent more since it last said how far it was; now it is back at that."""
    sent(tablet, 4)
    tablet.meets()
    sent(tablet, 3)
    tablet.seq = 4

    told = tablet.meets()

    [alarm] = alarms(here)
    assert (alarm.kind, alarm.count, alarm.first_seq) == (AlarmKind.WENT_BACK, 0, 0)
    assert told["next_seq"] == 8


def test_what_is_made_by_a_tablet_set_back_is_kept_before_it_knows_of_it(here: Workshop, tablet: ATablet) -> None:
    sent(tablet, 4)
    tablet.meets()
    tablet.seq = 2

    again = [tablet.entry(id=f"again-{seq}", seq=seq) for seq in (3, 4, 5)]
    tablet.seq = 5
    assert [one["kept"] for one in tablet.answers(*again)] == [True] * 3
    told = tablet.meets()

    assert told["next_seq"] == 8
    assert [one.kind for one in alarms(here)] == [AlarmKind.WENT_BACK]


def test_a_contact_that_comes_late_is_no_alarm(here: Workshop, tablet: ATablet) -> None:
    """Given up by the tablet and heard all the same, after the one that followed it."""
    sent(tablet, 2)
    late = tablet.contact()
    here.clock.forward(seconds=25)
    sent(tablet, 3)
    tablet.meets()

    assert tablet.posts("/sync/contact", late).status_code == 200

    assert alarms(here) == []
    assert record(here, tablet).said_seq == 5


@pytest.mark.parametrize("late_by", [{"minutes": 2}, {"days": 3}])
def test_a_contact_that_is_counted_is_no_alarm_however_late(
    here: Workshop, tablet: ATablet, late_by: dict[str, int]
) -> None:
    sent(tablet, 2)
    late = tablet.contact(number=4)
    here.clock.forward(**late_by)
    sent(tablet, 3)
    tablet.meets(number=5)
    before = record(here, tablet)

    tablet.posts("/sync/contact", late)

    assert alarms(here) == []
    assert replace(record(here, tablet), seen_at=before.seen_at) == before


def test_an_older_bundles_tab_beside_one_that_counts_is_no_alarm(here: Workshop, tablet: ATablet) -> None:
    tablet.meets(number=7)
    sent(tablet, 2)

    told = tablet.meets()

    assert told["contacts"] == 7
    assert (record(here, tablet).said_seq, record(here, tablet).contacts) == (2, 7)
    assert alarms(here) == []


def test_a_contact_between_entries_and_their_own_contact_is_late_too(here: Workshop, tablet: ATablet) -> None:
    tablet.meets(number=1)
    late = tablet.contact(number=2)
    tablet.posts("/sync/entries", {"tablet": tablet.id, "number": 2, "entries": [tablet.entry()]})

    tablet.posts("/sync/contact", late)

    assert alarms(here) == []
    assert record(here, tablet).last_seq == 1


def test_a_batch_of_before_is_not_taken(here: Workshop, tablet: ATablet) -> None:
    """Its tablet was set back, or it is late: the contact tells. What it has to give, it gives again."""
    tablet.meets(number=9)
    entry = tablet.entry()

    answer = tablet.posts("/sync/entries", {"tablet": tablet.id, "number": 8, "entries": [entry]}).json()

    assert answer == {"next_seq": 1, "answers": []}
    assert tablet.meets([1], number=8)["contacts"] == 9
    assert tablet.meets([1], number=10, went_back=9)["next_seq"] == 1
    answer = tablet.posts("/sync/entries", {"tablet": tablet.id, "number": 10, "entries": [entry]}).json()
    assert [one["kept"] for one in answer["answers"]] == [True]
    assert [(one.kind, one.count) for one in alarms(here)] == [(AlarmKind.WENT_BACK, 0)]


@pytest.mark.parametrize("number", [-1, 1.5, "2", "", True, False, 2**60])
def test_a_batch_with_a_number_that_is_none_is_refused(tablet: ATablet, number: object) -> None:
    answer = tablet.posts("/sync/entries", {"tablet": tablet.id, "number": number, "entries": []})

    assert (answer.status_code, answer.json()["problem"]) == (422, "batch_unreadable")


def test_another_contact_under_the_same_number_is_asked_again(here: Workshop, tablet: ATablet) -> None:
    """It was set back by one and has counted this far again. The very same contact, sent twice, is no such thing."""
    noted(tablet, 1)
    message = tablet.contact([1], number=3)
    tablet.posts("/sync/contact", message)
    assert tablet.posts("/sync/contact", message).json()["contacts"] == 3
    here.clock.forward(seconds=20)

    told = tablet.meets([1], number=3)

    assert told["contacts"] == 4
    assert alarms(here) == []


def test_a_tablet_that_went_back_and_used_its_numbers_anew_is_one_alarm(here: Workshop, tablet: ATablet) -> None:
    """Numbers 3 and 4 were told of and never sent; now other entries have them, and come."""
    sent(tablet, 2)
    noted(tablet, 2)
    tablet.meets([3, 4], number=5)
    anew = [tablet.entry(id=f"anew-{seq}", seq=seq) for seq in (3, 4)]

    for number in (6, 7, 8):
        tablet.meets([3, 4], number=number, went_back=5)
    assert all(one["kept"] for one in tablet.answers(*anew))

    [alarm] = alarms(here)
    assert (alarm.kind, alarm.count, alarm.first_seq, alarm.last_seq) == (AlarmKind.WENT_BACK, 2, 3, 4)


def test_a_number_that_comes_again_with_another_entry_is_an_alarm_at_once(here: Workshop, tablet: ATablet) -> None:
    sent(tablet, 4)

    assert tablet.answers(tablet.entry(id="again", seq=3))[0]["kept"]

    assert [(one.kind, one.count) for one in alarms(here)] == [(AlarmKind.WENT_BACK, 0)]
    assert record(here, tablet).last_seq == 5


def test_the_same_contact_twice_is_one_alarm(here: Workshop, tablet: ATablet) -> None:
    noted(tablet, 6)
    tablet.meets(range(1, 7))
    here.clock.forward(seconds=5)
    told = tablet.contact()

    tablet.posts("/sync/contact", told)
    tablet.posts("/sync/contact", told)

    assert [one.count for one in alarms(here)] == [6]


def test_two_losses_that_nobody_settled_are_one_line(here: Workshop, tablet: ATablet) -> None:
    noted(tablet, 2)
    tablet.meets([1, 2])
    tablet.meets()
    noted(tablet, 3)
    tablet.meets([3, 4, 5])
    tablet.meets()

    [alarm] = alarms(here)
    assert (alarm.count, alarm.first_seq, alarm.last_seq) == (5, 1, 5)


# --- After a restore ------------------------------------------------------------------------------------------------


def test_after_a_restore_it_sends_again_what_it_still_has(here: Workshop, tablet: ATablet) -> None:
    """What the office's older copy lacks and the tablet has kept comes again: nothing is lost, so no alarm."""
    sent(tablet, 3)
    tablet.meets()
    older = copy.deepcopy(here.store._state)
    entries = sent(tablet, 4)
    here.store.publish(older)

    told = tablet.meets(oldest=4)

    assert told["next_seq"] == 4
    answers = tablet.answers(*entries)
    assert [(one["kept"], one["repeated"]) for one in answers] == [(True, False)] * 4
    tablet.meets()
    assert alarms(here) == []


def test_after_a_restore_what_it_has_no_more_is_an_alarm_and_the_rest_comes(here: Workshop, tablet: ATablet) -> None:
    sent(tablet, 3)
    tablet.meets()
    older, since = copy.deepcopy(here.store._state), here.clock.now
    here.clock.forward(hours=3)
    sent(tablet, 4)
    kept = sent(tablet, 2)
    waiting = noted(tablet, 1)
    here.store.publish(older)

    refused = tablet.answers(*waiting)
    told = tablet.meets([10], oldest=8)

    assert refused[0]["problem"] == "seq_gap"
    assert told["next_seq"] == 8
    [alarm] = alarms(here)
    assert (alarm.kind, alarm.count, alarm.first_seq, alarm.last_seq) == (AlarmKind.MISSING, 4, 4, 7)
    assert alarm.since == since
    assert [one["kept"] for one in tablet.answers(*kept, *waiting)] == [True] * 3
    tablet.meets()
    assert record(here, tablet).owes == 0


def test_after_a_restore_a_tablet_with_nothing_left_goes_on(here: Workshop, tablet: ATablet) -> None:
    older = copy.deepcopy(here.store._state)
    sent(tablet, 5)
    here.store.publish(older)

    assert tablet.meets()["next_seq"] == 6
    assert [one.count for one in alarms(here)] == [5]
    assert tablet.answers(tablet.entry())[0]["kept"]


def test_after_a_restore_a_state_of_equal_length_is_sent_all_the_same(here: Workshop, tablet: ATablet) -> None:
    """As many entries, but others: the number of the last one alone would not tell."""
    older = copy.deepcopy(here.store._state)
    sent(tablet, 1)
    before = tablet.meets()["jobs"][JOB]
    here.store.publish(older)
    tablet.answers(tablet.entry(id="another", seq=1))

    after = tablet.meets()["jobs"][JOB]

    assert after["through"] == before["through"]
    assert after["hash"] != before["hash"]


def test_a_restored_office_that_does_not_know_the_tablet_says_so(here: Workshop) -> None:
    older = copy.deepcopy(here.store._state)
    tablet = a_tablet(here)
    here.store.publish(older)

    assert tablet.posts("/sync/contact", tablet.contact()).status_code == 401


# --- What a tablet cannot do with what it says ------------------------------------------------------------------------


def test_numbers_that_cannot_be_move_nothing_beyond_what_it_has_used(here: Workshop, tablet: ATablet) -> None:
    sent(tablet, 2)

    told = tablet.meets([9], oldest=9)

    assert told["next_seq"] == 3
    assert alarms(here) == []


# --- Settling -------------------------------------------------------------------------------------------------------


def lost(here: Workshop, tablet: ATablet) -> TabletAlarm:
    noted(tablet, 2)
    tablet.meets([1, 2])
    tablet.meets()
    return alarms(here)[0]


def test_an_alarm_stands_until_it_is_settled_by_name_and_reason(here: Workshop, tablet: ATablet) -> None:
    alarm = lost(here, tablet)

    settle_alarm(here.office, FAY.id, alarm.id, "  Ada has done both again  ")

    assert alarms(here) == []
    settled = here.get("tablet_alarms", alarm.id)
    assert (settled.settled_by, settled.settled_because) == (FAY.id, "Ada has done both again")
    assert settled.settled_at == here.clock.now
    assert here.announced[-1] == "floor"


@pytest.mark.parametrize("reason", ["", " \n ", "x" * 2_001])
def test_without_a_reason_or_with_a_book_it_is_not_settled(here: Workshop, tablet: ATablet, reason: str) -> None:
    alarm = lost(here, tablet)

    with pytest.raises(Refused):
        settle_alarm(here.office, FAY.id, alarm.id, reason)

    assert alarms(here) == [alarm]


def test_the_first_who_settles_it_has_settled_it(here: Workshop, tablet: ATablet) -> None:
    alarm = lost(here, tablet)
    settle_alarm(here.office, FAY.id, alarm.id, "Done again")

    again = settle_alarm(here.office, BEN.id, alarm.id, "No matter")

    assert (again.settled_by, again.settled_because) == (FAY.id, "Done again")


def test_an_alarm_nobody_raised_is_not_found(here: Workshop) -> None:
    with pytest.raises(NotFound):
        settle_alarm(here.office, FAY.id, "nothing", "x")


def test_after_settling_a_new_loss_is_a_new_alarm(here: Workshop, tablet: ATablet) -> None:
    settle_alarm(here.office, FAY.id, lost(here, tablet).id, "Done again")
    noted(tablet, 1)
    tablet.meets([3])
    tablet.meets()

    assert [(one.count, one.first_seq) for one in alarms(here)] == [(1, 3)]


def test_retiring_a_tablet_that_owes_is_on_record_with_the_reason(here: Workshop, tablet: ATablet) -> None:
    sent(tablet, 1)
    noted(tablet, 3)
    tablet.meets([2, 3, 4], signed_in=ADA.id)

    retire_tablet(here.office, FAY.id, tablet.id, "It fell into the pit")

    [alarm] = here.all("tablet_alarms")
    assert (alarm.kind, alarm.count, alarm.first_seq, alarm.last_seq) == (AlarmKind.RETIRED, 3, 2, 4)
    assert (alarm.people, alarm.settled_by, alarm.settled_because) == (("Ada",), FAY.id, "It fell into the pit")


def test_retiring_one_that_owes_nothing_leaves_no_alarm(here: Workshop, tablet: ATablet) -> None:
    retire_tablet(here.office, FAY.id, tablet.id, "Too slow")

    assert here.all("tablet_alarms") == ()
    gone = record(here, tablet)
    assert (gone.retired, gone.retired_by, gone.retired_because, gone.retired_at) == (
        True, FAY.id, "Too slow", here.clock.now,
    )  # fmt: skip
