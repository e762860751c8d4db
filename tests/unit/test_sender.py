"""The sender before the real office: whatever the network does, each entry is in the ledger once, in its order."""

from __future__ import annotations

import json
from collections import deque
from dataclasses import dataclass, replace
from datetime import timedelta
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.domain import entry as e
from app.domain.records import AlarmKind
from app.domain.sheet import sheet_from
from app.use_cases.cancel_job import cancel_job
from app.use_cases.enrol_tablet import retire_tablet
from app.use_cases.office_entry import office_entry
from app.use_cases.record_entry import record_form
from tests.builders import ADA, BEN, FAY, JOB, RULES_FILE
from tests.offices import MONDAY, Workshop, a_small_job, an_office
from tests.tablet_harness import (
    LATER_POCKET,
    SENDING,
    Failed,
    Network,
    Office,
    Page,
    Reply,
    Request,
    World,
    a_note,
    by_client,
)
from tests.tablets import ATablet, a_tablet, the_whole_app

START = int(MONDAY.timestamp() * 1_000)
TABLE = json.loads(RULES_FILE.read_text("utf-8"))


@dataclass
class Shop:
    """The office, one tablet of it, and the network between."""

    here: Workshop
    tablet: ATablet
    network: Network
    world: World

    def ledger(self) -> list[tuple[int, str]]:
        """Number and id of what this tablet sent, in the order of the ledger."""
        with self.here.store.reading() as unit:
            rows = [row for row in unit.ledger.walk(0, 10_000) if row.heard.entry.tablet == self.tablet.id]
        return [(row.heard.entry.seq, row.heard.entry.id) for row in rows]

    def record(self) -> Any:
        return self.here.get("tablets", self.tablet.id)

    def alarms(self) -> list[tuple[AlarmKind, int, int]]:
        return [(one.kind, one.first_seq, one.last_seq) for one in self.here.all("tablet_alarms")]


def a_shop() -> Shop:
    here = an_office()
    a_small_job(here)
    tablet = a_tablet(here, the_whole_app(here))
    ask = by_client(tablet.client)

    def office(request: Request) -> Reply:
        # The office's clock goes on with the tablet's.
        here.clock.now = MONDAY + timedelta(hours=1, milliseconds=world.value("browser.now") - START)
        return ask(request)

    network = Network(office)
    world = World(network, START)
    return Shop(here, tablet, network, world)


@pytest.fixture
def shop() -> Shop:
    return a_shop()


@pytest.fixture
def page(shop: Shop) -> Page:
    return enrolled(shop)


def enrolled(shop: Shop) -> Page:
    page = shop.world.opened()
    page.pocket("keepTablet", {"id": shop.tablet.id, "name": "Bench", "secret": shop.tablet.secret})
    return page


# --- Happy -----------------------------------------------------------------------------------------------------------


def test_entries_go_to_the_office_in_order_and_leave_the_pocket(shop: Shop, page: Page) -> None:
    page.notes("m-1", "m-2")
    page.notes("m-3")

    assert page.exchanges() == "answered"

    assert shop.ledger() == [(1, "m-1"), (2, "m-2"), (3, "m-3")]
    assert shop.world.kept_ids() == []
    assert shop.network.paths() == ["/sync/entries", "/sync/contact"]
    assert shop.network.seen[0].headers["Authorization"] == f"Tablet {shop.tablet.id}.{shop.tablet.secret}"
    kept = page.pocket("sheet", "1001")
    assert [one["text"] for one in kept["base"]["state"]["notes"]] == ["Note m-1", "Note m-2", "Note m-3"]
    assert kept["later"] == []


def test_with_nothing_to_send_only_a_contact_is_made(shop: Shop, page: Page) -> None:
    assert page.exchanges() == "answered"
    assert page.exchanges() == "answered"

    assert shop.network.paths() == ["/sync/contact", "/sync/contact"]
    again = shop.network.seen[1].data
    assert list(again["have"]) == [JOB]
    assert len(again["pictures"]) == 1


def test_the_sheet_on_the_tablet_is_the_offices_own(shop: Shop, page: Page) -> None:
    page.exchanges()
    page.notes("m-1")
    page.exchanges()

    kept = page.pocket("sheet", "1001")

    sheet = shop.here.sheet(shop.here.get("jobs", JOB))
    assert sheet_from(kept["base"]["state"], sheet.packet).hash == sheet.hash
    shown = page.does(
        "(page, kept, table) => { const { sheet } = page.m['sheet_now.js'].sheetNow(kept,"
        " new page.m['rules.js'].Rules(table)); return page.m['sheet.js'].hashOf(sheet); }",
        kept,
        TABLE,
    )
    assert shown == sheet.hash


def test_more_than_one_batch_is_sent_at_once(shop: Shop, page: Page) -> None:
    for i in range(5):
        page.notes(*(f"m-{i}-{place}" for place in range(50)))

    assert page.exchanges() == "answered"

    assert shop.network.paths() == ["/sync/entries"] * 3 + ["/sync/contact"]
    assert [seq for seq, _ in shop.ledger()] == list(range(1, 251))
    assert shop.world.kept_ids() == []


def test_more_jobs_than_fit_one_answer_come_at_once(shop: Shop, page: Page) -> None:
    for _ in range(24):
        shop.here.opens()

    assert page.exchanges() == "answered"

    assert shop.network.paths() == ["/sync/contact"] * 2
    assert len(page.pocket("jobs")) == 25


def test_the_office_learns_what_waits_and_who_is_signed_in(shop: Shop, page: Page) -> None:
    page.pocket("signIn", {"person": ADA.id, "name": ADA.name, "roles": list(ADA.roles)})
    page.notes("m-1", "m-2")
    shop.network.next_are(Reply(500, "Internal Server Error"))

    assert page.exchanges() == "stuck"

    contact = shop.network.seen[1].data
    assert (contact["said_seq"], contact["oldest"], contact["waiting"]) == (2, 1, {"count": 2, "from": 1})
    assert contact["signed_in"] == ADA.id
    assert [one.person for one in shop.here.all("tablet_people")] == [ADA.id]


def test_what_is_set_aside_is_in_the_ledger_too_and_the_tablet_has_the_words(shop: Shop, page: Page) -> None:
    page.exchanges()
    cancel_job(shop.here.office, FAY.id, "1001", "The customer came for it")
    page.notes("m-1")
    shop.network.next_are("fine", "lost")

    assert page.exchanges() == "silent"

    (row,) = page.pocket("sheet", "1001")["later"]
    assert (row["office"]["accepted"], row["office"]["reason"]) == (False, "not_here")
    assert row["office"]["words"].endswith(".")
    assert shop.ledger() == [(1, "m-1")]


# --- Whatever the network does ---------------------------------------------------------------------------------------

FAULTS = ["lost", "swallowed", "answer_lost", "answer_swallowed", "twice", "slow", "held"]
STRANGERS = [
    Reply(500, "Internal Server Error"),
    Reply(502, "<html>Bad gateway</html>"),
    Reply(200, "<html>Sign in to this Wi-Fi</html>"),
    Reply(401, "<html>Sign in to this Wi-Fi</html>"),
    Reply(404, '{"detail": "Not Found"}'),
]


def comes_to_rest(shop: Shop, page: Page, ids: list[str]) -> None:
    """In the end each is in the ledger once, in the order of its number, and the pocket is empty."""
    shop.world.wait(45_000)
    shop.network.arrive()
    shop.world.wait(5_000)
    assert [one for _, one in shop.ledger()] == ids
    assert [seq for seq, _ in shop.ledger()] == list(range(1, len(ids) + 1))
    assert shop.world.kept_ids() == []
    assert page.told[-1] == "answered"
    assert shop.alarms() == []


@pytest.mark.parametrize("at", [0, 1])
@pytest.mark.parametrize("fault", [*FAULTS, *STRANGERS], ids=lambda one: getattr(one, "text", one)[:20])
def test_one_fault_loses_nothing_and_doubles_nothing(shop: Shop, page: Page, fault: str | Reply, at: int) -> None:
    page.notes("m-1", "m-2")
    shop.network.next_are(*["fine"] * at, fault)

    page.sends()
    shop.world.wait(1)
    page.notes("m-3")

    comes_to_rest(shop, page, ["m-1", "m-2", "m-3"])
    assert "unknown" not in page.told


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(st.sampled_from([*FAULTS, *STRANGERS, "killed", "fine", "fine"]), max_size=12),
    st.lists(st.sampled_from(["note", "wait", "long", "longest", "kill", "arrive", "second"]), max_size=12),
)
def test_whatever_happens_each_entry_is_in_the_ledger_once(faults: list[str | Reply], moves: list[str]) -> None:
    shop = a_shop()
    page = enrolled(shop)
    page.sends()
    ids: list[str] = []
    shop.network.plan = deque(faults)

    for move in moves:
        if shop.world.value(f"browser.pages['{page.id}'].factory.isKilled"):
            page = shop.world.opened()
            page.sends()
        if move == "note":
            ids.append(f"m-{len(ids)}")
            page.begins("(page, ...args) => page.pocket.note(...args)", [a_note(ids[-1])], HEARD)
            shop.world.go(
                until=lambda: ids[-1] in shop.world.kept_ids() or ids[-1] in {one for _, one in shop.ledger()}
            )
        elif move == "wait":
            shop.world.wait(700)
        elif move == "long":
            shop.world.wait(25_000)
        elif move == "longest":
            shop.world.wait(70_000)
        elif move == "kill":
            page.kill()
            page = shop.world.opened()
            page.sends()
        elif move == "second":
            page = shop.world.opened()
            page.sends()
        else:
            shop.network.arrive()

    shop.network.plan.clear()
    last = shop.world.opened()
    last.sends()
    shop.world.wait(45_000)
    shop.network.arrive()
    shop.world.wait(5_000)
    assert [one for _, one in shop.ledger()] == ids
    assert [seq for seq, _ in shop.ledger()] == list(range(1, len(ids) + 1))
    assert shop.world.kept_ids() == []
    assert shop.alarms() == []
    assert shop.world.errors == []


HEARD = {"name": ADA.name, "roles": list(ADA.roles), "at_ms": START}


def test_what_is_sent_again_is_the_same_byte_for_byte(shop: Shop, page: Page) -> None:
    page.notes("m-1", "m-2")
    shop.network.next_are("answer_lost")

    assert page.exchanges() == "silent"
    assert page.exchanges() == "answered"

    assert shop.network.seen[0].body == shop.network.seen[1].body
    assert shop.ledger() == [(1, "m-1"), (2, "m-2")]


def test_an_old_request_that_arrives_after_all_others_changes_nothing(shop: Shop, page: Page) -> None:
    page.notes("m-1", "m-2")
    shop.network.next_are("held")
    page.sends()
    shop.world.wait(30_000)
    page.notes("m-3")
    shop.world.wait(10_000)
    before = shop.ledger()

    (late,) = shop.network.arrive()

    assert shop.ledger() == before == [(1, "m-1"), (2, "m-2"), (3, "m-3")]
    assert json.loads(late.text) == {"next_seq": 4, "answers": []}


@pytest.mark.parametrize("minutes", [0, 3, 600])
def test_a_contact_that_arrives_long_after_others_is_no_loss(shop: Shop, page: Page, minutes: int) -> None:
    shop.network.next_are("held")
    page.sends()
    page.notes("m-1")
    shop.world.wait(30_000)
    # Asleep meanwhile.
    shop.world.engine.run(f"browser.now += {minutes * 60_000}")
    shop.world.wait(10_000)
    before = shop.record()

    (late,) = shop.network.held
    assert (late.path, late.data["said_seq"]) == ("/sync/contact", 0)
    shop.network.arrive()
    shop.world.wait(10_000)

    assert shop.alarms() == []
    assert (shop.record().said_seq, shop.record().last_seq) == (before.said_seq, before.last_seq) == (1, 1)


def test_a_contact_that_arrives_between_the_next_entries_and_their_contact_is_no_loss(shop: Shop, page: Page) -> None:
    page.exchanges()
    shop.network.next_are("held")
    page.begins("(page, bundle) => page.m['sender.js'].exchange(page.pocket,"
                " page.m['sender.js'].postFrom(page.pocket, 20_000), page.now, bundle)", "b" * 16)  # fmt: skip
    shop.world.wait(25_000)
    page.notes("m-1")
    shop.network.next_are("fine", "lost")
    assert page.exchanges() == "silent"

    shop.network.arrive()
    assert page.exchanges() == "answered"

    assert shop.ledger() == [(1, "m-1")]
    assert shop.alarms() == []


def test_a_page_killed_between_the_write_and_the_sending_loses_nothing(shop: Shop, page: Page) -> None:
    page.notes("m-1")
    page.kill()

    after = shop.world.opened()
    assert after.exchanges() == "answered"

    assert shop.ledger() == [(1, "m-1")]


def test_a_page_killed_while_the_office_answers_doubles_nothing(shop: Shop, page: Page) -> None:
    page.notes("m-1")
    shop.network.next_are("killed")
    page.sends()
    assert shop.ledger() == [(1, "m-1")]
    assert shop.world.kept_ids() == ["m-1"]

    after = shop.world.opened()
    assert after.exchanges() == "answered"

    assert shop.ledger() == [(1, "m-1")]
    assert shop.world.kept_ids() == []


# --- Gaps and older copies -------------------------------------------------------------------------------------------


def test_an_office_set_back_to_an_older_copy_gets_again_what_the_tablet_still_has(shop: Shop, page: Page) -> None:
    page.exchanges()
    page.notes("m-1")
    page.exchanges()
    backup = shop.here.store._state
    page.notes("m-2", "m-3")
    shop.network.next_are("fine", "lost")  # ruled on, and no newer sheet has come
    assert page.exchanges() == "silent"
    page.notes("m-4")

    shop.here.store.publish(backup)
    assert shop.ledger() == [(1, "m-1")]
    # The first number it offers is beyond what the office has: a gap, until a contact has made it known.
    assert page.exchanges() == "answered"
    assert page.exchanges() == "answered"

    assert shop.ledger() == [(1, "m-1"), (2, "m-2"), (3, "m-3"), (4, "m-4")]
    assert shop.world.kept_ids() == []
    assert shop.alarms() == []


def test_what_neither_has_any_more_is_an_alarm_and_holds_up_nothing(shop: Shop, page: Page) -> None:
    backup = shop.here.store._state
    page.notes("m-1", "m-2")
    page.exchanges()
    page.notes("m-3")

    shop.here.store.publish(backup)
    assert page.exchanges() == "answered"

    assert shop.ledger() == [(3, "m-3")]
    assert shop.world.kept_ids() == []
    assert shop.alarms() == [(AlarmKind.MISSING, 1, 2)]


def test_a_tablet_set_back_to_an_older_state_sends_what_it_has_and_goes_on(shop: Shop, page: Page) -> None:
    page.notes("m-1")
    older = shop.world.dump()
    page.notes("m-2", "m-3")
    page.exchanges()
    page.kill()
    shop.world.restore(older)

    after = shop.world.opened()
    after.notes("n-2")
    assert after.exchanges() == "answered"
    after.notes("n-4")
    assert after.exchanges() == "answered"

    assert [one for _, one in shop.ledger()] == ["m-1", "m-2", "m-3", "n-2", "n-4"]
    assert [seq for seq, _ in shop.ledger()] == [1, 2, 3, 4, 5]
    assert shop.world.kept_ids() == []
    assert [kind for kind, _, _ in shop.alarms()] == [AlarmKind.WENT_BACK]


def is_set_back(shop: Shop, page: Page, *noted: str) -> None:
    """What is noted here is told of and not taken; then the tablet is as it was before."""
    older = shop.world.dump()
    page.notes(*noted)
    shop.network.next_are(Reply(500, "Internal Server Error"))
    page.exchanges()
    page.kill()
    shop.world.restore(older)
    shop.world.wait(1_000)


def test_a_tablet_set_back_that_uses_numbers_anew_is_an_alarm_and_loses_nothing_it_has(shop: Shop, page: Page) -> None:
    """What it had told of under those numbers, and not sent, is gone: no number says so, since all of them come."""
    page.notes("m-1")
    page.exchanges()
    is_set_back(shop, page, "m-2", "m-3")

    after = shop.world.opened()
    after.notes("n-2", "n-3")
    after.notes("n-4")
    assert after.exchanges() == "answered"
    assert after.exchanges() == "answered"

    assert shop.alarms() == [(AlarmKind.WENT_BACK, 2, 3)]
    assert [one for _, one in shop.ledger()] == ["m-1", "n-2", "n-3", "n-4"]
    assert shop.world.kept_ids() == []
    assert [one.count for one in shop.here.all("tablet_alarms")] == [2]


def test_that_it_went_back_is_said_until_it_is_heard_and_raises_one_alarm(shop: Shop, page: Page) -> None:
    page.exchanges()
    is_set_back(shop, page, "m-1")

    after = shop.world.opened()
    after.notes("n-1")
    # The entries are not taken; the contact is told that later ones were heard; and its answer is lost, twice.
    shop.network.next_are("fine", "fine", "lost")
    assert after.exchanges() == "silent"
    assert shop.alarms() == []
    after.kill()
    after = shop.world.opened()
    shop.network.next_are("fine", "answer_lost")
    assert after.exchanges() == "silent"
    assert shop.alarms() == [(AlarmKind.WENT_BACK, 1, 1)]
    for _ in range(3):
        after.exchanges()

    assert shop.alarms() == [(AlarmKind.WENT_BACK, 1, 1)]
    assert [one.count for one in shop.here.all("tablet_alarms")] == [1]
    assert [one for _, one in shop.ledger()] == ["n-1"]


def test_a_contact_that_cannot_be_counted_is_made_all_the_same(shop: Shop, page: Page) -> None:
    page.exchanges()
    shop.world.fail_commits("QuotaExceededError")

    assert page.exchanges() == "answered"

    assert "number" not in shop.network.seen[-1].data
    page.notes("m-1")
    assert page.exchanges() == "answered"
    assert shop.network.seen[-1].data["number"] == 2
    assert shop.ledger() == [(1, "m-1")]
    assert shop.alarms() == []


def test_a_wiped_tablet_is_unknown_to_itself_and_asks_nothing(shop: Shop, page: Page) -> None:
    page.notes("m-1")
    page.kill()
    shop.world.wipe()

    assert shop.world.opened().exchanges() == "unknown"
    assert shop.network.seen == []


# --- Refused ---------------------------------------------------------------------------------------------------------


def test_a_retired_tablet_keeps_everything_and_says_so(shop: Shop, page: Page) -> None:
    page.notes("m-1", "m-2")
    retire_tablet(shop.here.office, FAY.id, shop.tablet.id, "Broken glass")

    assert page.exchanges() == "unknown"
    page.notes("m-3")
    assert page.exchanges() == "unknown"

    assert shop.world.kept_ids() == ["m-1", "m-2", "m-3"]
    assert shop.ledger() == []


def test_a_tablet_enrolled_anew_sends_what_waited(shop: Shop, page: Page) -> None:
    page.notes("m-1", "m-2")
    retire_tablet(shop.here.office, FAY.id, shop.tablet.id, "Lost")
    assert page.exchanges() == "unknown"

    anew = a_tablet(shop.here, shop.tablet.client.app, "Bench again", was=shop.tablet.header)  # type: ignore[arg-type]
    page.pocket("keepTablet", {"id": anew.id, "name": "Bench again", "secret": anew.secret})
    shop.tablet = replace(shop.tablet, id=anew.id)
    assert page.exchanges() == "answered"

    assert [one for _, one in shop.ledger()] == ["m-1", "m-2"]
    assert shop.world.kept_ids() == []
    page.notes("m-3")
    assert page.exchanges() == "answered"
    assert [one for _, one in shop.ledger()] == ["m-1", "m-2", "m-3"]


def with_limit(office: Office, fits: Any, status: int, problem: str) -> Office:
    """An office that refuses a whole message where one entry in it does not fit."""

    def asked(request: Request) -> Reply:
        if request.path == "/sync/entries" and not fits(request.data["entries"]):
            return Reply.of({"problem": problem, "field": "entries", "words": "Too much."}, status)
        return office(request)

    return asked


def test_a_batch_that_is_too_large_is_sent_in_halves(shop: Shop, page: Page) -> None:
    shop.network.office = with_limit(shop.network.office, lambda rows: len(rows) <= 3, 413, "batch_too_large")
    page.notes(*(f"m-{i}" for i in range(10)))

    assert page.exchanges() == "answered"

    assert [seq for seq, _ in shop.ledger()] == list(range(1, 11))
    assert page.pocket("debt")["not_taken"] == 0


@pytest.mark.parametrize(("status", "problem"), [(413, "batch_too_large"), (422, "batch_unreadable")])
def test_one_entry_that_cannot_be_taken_holds_up_no_other(shop: Shop, page: Page, status: int, problem: str) -> None:
    def fits(rows: list[Any]) -> bool:
        return all(one["id"] != "m-3" for one in rows)

    shop.network.office = with_limit(shop.network.office, fits, status, problem)
    page.notes(*(f"m-{i}" for i in range(8)))

    assert page.exchanges() == "answered"

    assert [one for _, one in shop.ledger()] == [f"m-{i}" for i in range(8) if i != 3]
    assert shop.world.kept_ids() == ["m-3"]
    assert page.pocket("debt")["not_taken"] == 1
    # The office knows that one is missing, and a foreman sees it.
    assert shop.alarms() == [(AlarmKind.MISSING, 4, 4)]
    # It is offered to no office that has said so already, and to the next one.
    shop.network.seen.clear()
    page.exchanges()
    assert shop.network.paths() == ["/sync/contact"]


def test_a_message_that_is_not_this_tablets_marks_no_entry(shop: Shop, page: Page) -> None:
    page.notes("m-1")
    refusal = Reply.of({"problem": "not_yours", "field": "tablet", "words": "Not yours."}, 422)
    shop.network.next_are(refusal)

    assert page.exchanges() == "stuck"
    assert shop.network.paths() == ["/sync/entries", "/sync/contact"]
    assert page.pocket("debt") == {
        "said_seq": 1, "oldest": 1, "waiting": {"count": 1, "from": 1}, "not_taken": 0
    }  # fmt: skip
    assert page.exchanges() == "answered"
    assert shop.ledger() == [(1, "m-1")]


def test_an_office_that_fails_on_entries_still_brings_sheets(shop: Shop, page: Page) -> None:
    page.notes("m-1")
    shop.network.next_are(Reply(500, "Internal Server Error"))

    assert page.exchanges() == "stuck"

    assert page.pocket("sheet", "1001")["later"][0]["id"] == "m-1"
    assert page.exchanges() == "answered"


NOT_YOURS = Reply.of({"problem": "not_yours", "field": "tablet", "words": "Not yours."}, 422)
PROXY = Reply(403, "<h1>Forbidden</h1>")


def refusing(office: Office, refusal: Reply) -> Office:
    """An office that takes no entries, for a reason that is none of theirs."""
    return lambda request: refusal if request.path == "/sync/entries" else office(request)


@pytest.mark.parametrize("refusal", [NOT_YOURS, PROXY, Reply(500, "Internal Server Error")])
def test_entries_that_are_never_taken_are_offered_ever_more_seldom_and_hold_up_no_news(
    shop: Shop, page: Page, refusal: Reply
) -> None:
    office = shop.network.office
    shop.network.office = refusing(office, refusal)
    page.notes("m-1", "m-2")
    page.sends()

    shop.world.wait(30 * 60_000)

    offered = [one.at_ms - START for one in shop.network.seen if one.path == "/sync/entries"]
    rounds = [0, 1, 2, 4, 8, 16, *range(32, 361, 32)]
    assert offered == [one * 5_000 for one in rounds]
    # Meanwhile what others do is heard as soon as ever, and the foreman sees what waits there.
    assert shop.network.paths().count("/sync/contact") == 361
    assert (shop.record().waiting, shop.record().waiting_from) == (2, 1)
    assert shop.alarms() == []
    # It is said when it lasts, and nothing is lost: not what was noted before, nor what is noted now.
    assert page.told[:2] == ["answered", "stuck"]
    assert set(page.told[1:]) == {"stuck"}
    page.notes("m-3")
    assert shop.world.kept_ids() == ["m-1", "m-2", "m-3"]
    assert page.pocket("debt")["not_taken"] == 0

    shop.network.office = office
    shop.world.wait(32 * 5_000)
    comes_to_rest(shop, page, ["m-1", "m-2", "m-3"])
    assert page.told[-1] == "answered"


def test_an_office_that_is_busy_with_others_is_asked_again_later(shop: Shop, page: Page) -> None:
    shop.network.next_are(*[Reply(503, "<h1>The office is busy</h1>")] * 3)
    page.notes("m-1")
    page.sends()
    assert page.told == ["silent"]
    assert 750 in shop.world.timers()

    comes_to_rest(shop, page, ["m-1"])
    assert page.told[:3] == ["silent", "silent", "silent"]


def test_an_office_away_while_entries_are_stuck_is_tried_as_seldom_as_ever(shop: Shop, page: Page) -> None:
    office = shop.network.office
    shop.network.office = refusing(office, NOT_YOURS)
    page.notes("m-1")
    page.sends()
    shop.world.wait(60_000)
    shop.network.otherwise = "lost"
    shop.world.wait(10 * 60_000)

    assert page.told[-1] == "silent"
    assert rests(shop, 60_000) == [22_500, 22_500]

    shop.network.office, shop.network.otherwise = office, "fine"
    shop.world.wait(32 * 5_000)
    comes_to_rest(shop, page, ["m-1"])


def test_an_answer_that_makes_no_sense_is_no_answer(shop: Shop, page: Page) -> None:
    page.notes("m-1")
    page.sends()
    shop.network.otherwise = Reply(200, '{"hello": 1}')
    page.notes("m-2")
    shop.world.wait(40_000)
    shop.network.otherwise = "fine"

    comes_to_rest(shop, page, ["m-1", "m-2"])


# --- A full tablet ---------------------------------------------------------------------------------------------------


def test_a_full_tablet_still_sends_and_doubles_nothing(shop: Shop, page: Page) -> None:
    page.exchanges()
    page.notes("m-1", "m-2")
    shop.world.room(0)

    assert page.exchanges() == "full"
    assert shop.ledger() == [(1, "m-1"), (2, "m-2")]
    assert shop.world.kept_ids() == ["m-1", "m-2"]

    shop.world.room(None)
    assert page.exchanges() == "answered"
    assert shop.ledger() == [(1, "m-1"), (2, "m-2")]
    assert shop.world.kept_ids() == []


# --- When ------------------------------------------------------------------------------------------------------------


def rests(shop: Shop, ms: int) -> list[int]:
    """How long it rests between one try and the next, in so much time."""
    shop.network.seen.clear()
    shop.world.wait(ms)
    times = [one.at_ms for one in shop.network.seen]
    return [after - before for before, after in pairwise(times)]


def test_it_backs_off_to_half_a_minute_with_jitter_and_begins_anew_when_answered(shop: Shop, page: Page) -> None:
    shop.network.otherwise = "lost"
    page.begins(SENDING, "b" * 16)  # its dice always fall in the middle: three quarters of each rest

    assert rests(shop, 100_000) == [750, 1_500, 3_000, 6_000, 12_000, 22_500, 22_500, 22_500]

    shop.network.otherwise = "fine"
    assert rests(shop, 40_000) == [5_000] * 5
    shop.network.otherwise = "lost"
    assert rests(shop, 10_000) == [750, 1_500, 3_000]


@pytest.mark.parametrize(("dice", "first"), [(0, 500), (1, 1_000)])
def test_the_jitter_is_between_half_a_rest_and_a_whole_one(shop: Shop, page: Page, dice: int, first: int) -> None:
    page.does(
        "(page, dice) => { page.m['sender.js'].keepSending({ once: async () => 'silent', told: () => {},"
        " locks: page.navigator.locks, random: () => dice }); }",
        dice,
    )

    assert shop.world.timers() == [first]


def test_a_new_entry_is_sent_at_once(shop: Shop, page: Page) -> None:
    shop.network.otherwise = "lost"
    page.sends()
    shop.world.wait(100_000)
    shop.network.otherwise = "fine"

    page.notes("m-1")

    assert shop.ledger() == [(1, "m-1")]


def test_an_entry_noted_while_one_is_sent_is_sent_right_after(shop: Shop, page: Page) -> None:
    shop.network.next_are("slow")
    page.sends()
    page.notes("m-1")
    assert shop.ledger() == []

    shop.world.wait(shop.network.slow_ms)

    assert shop.ledger() == [(1, "m-1")]


def test_a_poke_asks_for_an_exchange_now(shop: Shop, page: Page) -> None:
    page.sends()
    before = len(shop.network.seen)

    page.does("(page) => { page.poke(); }")

    assert len(shop.network.seen) == before + 1


def test_a_request_that_takes_more_than_twenty_seconds_is_given_up_and_repeated(shop: Shop, page: Page) -> None:
    page.notes("m-1")
    shop.network.next_are("swallowed")
    page.sends()

    shop.world.wait(19_999)
    assert page.told == []
    shop.world.wait(1)
    assert page.told == ["silent"]
    shop.world.wait(1_000)
    assert page.told == ["silent", "answered"]
    assert shop.ledger() == [(1, "m-1")]


# --- Two pages -------------------------------------------------------------------------------------------------------


def test_of_two_pages_one_sends_what_both_note(shop: Shop, page: Page) -> None:
    other = shop.world.opened()
    page.sends()
    other.sends()
    page.notes("m-1")
    other.notes("m-2")

    assert shop.ledger() == [(1, "m-1"), (2, "m-2")]
    assert {request.page for request in shop.network.seen} == {page.id}
    assert other.told == []


def test_when_the_page_that_sends_is_gone_the_other_goes_on(shop: Shop, page: Page) -> None:
    other = shop.world.opened()
    page.sends()
    other.sends()
    shop.network.next_are("answer_swallowed")
    page.notes("m-1")

    page.kill()
    shop.world.go()

    assert {request.page for request in shop.network.seen} == {page.id, other.id}
    assert shop.ledger() == [(1, "m-1")]
    assert shop.world.kept_ids() == []


def test_a_page_whose_pocket_a_newer_bundle_has_renewed_lets_the_newer_page_send(shop: Shop, page: Page) -> None:
    page.sends()
    page.notes("m-1")
    shop.network.otherwise = "lost"
    page.notes("m-2")

    shop.world.made = {"pocket.js": LATER_POCKET}
    newer = shop.world.opened()
    newer.sends()
    newer.notes("m-3")
    shop.network.otherwise = "fine"
    shop.world.wait(30_000)

    assert shop.ledger() == [(1, "m-1"), (2, "m-2"), (3, "m-3")]
    assert shop.world.kept_ids() == []
    with pytest.raises(Failed, match="closed"):
        page.notes("m-4")


# --- Clocks and people -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("off", [-86_400_000, 3_600_000, 315_360_000_000])
def test_a_clock_that_jumps_decides_nothing(shop: Shop, page: Page, off: int) -> None:
    page.sends()
    page.notes("m-1")
    page.sets_clock(off)
    shop.world.wait(10_000)
    page.notes("m-2")
    shop.world.wait(10_000)

    assert shop.ledger() == [(1, "m-1"), (2, "m-2")]
    assert page.pocket("here")["clock"]["offset_ms"] == 3_600_000 - off  # the office of these tests is an hour ahead
    assert shop.alarms() == []
    assert shop.world.kept_ids() == []


def test_the_queue_is_the_tablets_and_each_entry_its_persons(shop: Shop, page: Page) -> None:
    for entry_id, who in (("m-1", ADA), ("m-2", BEN)):
        page.pocket("signIn", {"person": who.id, "name": who.name, "roles": list(who.roles)})
        page.notes(entry_id, who=who)
    page.pocket("signOut")

    assert page.exchanges() == "answered"

    with shop.here.store.reading() as unit:
        rows = [row for row in unit.ledger.walk(0, 10_000) if row.heard.entry.tablet == shop.tablet.id]
    assert [(row.heard.entry.person, row.accepted) for row in rows] == [(ADA.id, True), (BEN.id, True)]


def test_what_the_office_changed_meanwhile_is_on_the_tablet_after_an_exchange(shop: Shop, page: Page) -> None:
    page.exchanges()
    sheet = shop.here.sheet(shop.here.get("jobs", JOB))
    record_form(shop.here.office, office_entry(shop.here.office, FAY.id, sheet, e.HoldPlaced("Wait for the part")))
    page.exchanges()

    (hold,) = page.pocket("sheet", "1001")["base"]["state"]["holds"].values()
    assert hold["reason"] == "Wait for the part"
