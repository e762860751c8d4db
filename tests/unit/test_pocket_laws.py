"""The laws at the head of `static/tablet/pocket.js`, each by its name; what is kept, shown and told besides."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from app.domain import entry as e
from app.domain.canonical import canonical
from app.domain.packet import Verdict
from tests.builders import ADA, BEN, JOB, RULES_FILE, Play, a_packet, an_entry
from tests.tablet_harness import Failed, Network, Page, Reply, Request, Unfinished, World, a_note

FORMS = Path(__file__).resolve().parents[1] / "pocket_forms"
NOW = 1_780_905_600_000
TABLET = {"id": "t-1", "name": "Bench", "secret": "s3cret"}
SHOP = {"name": "Kettle Lane Axles", "timezone": "Europe/Helsinki"}
HELD_BY_ADA = {"name": ADA.name, "roles": list(ADA.roles), "at_ms": NOW}


def no_office(request: Request) -> Reply:
    raise AssertionError(f"nothing is sent here, and {request.path} was")


@pytest.fixture
def world() -> World:
    return World(Network(no_office), NOW)


@pytest.fixture
def page(world: World) -> Page:
    return enrolled(world)


def enrolled(world: World) -> Page:
    page = world.opened()
    page.pocket("keepTablet", TABLET)
    return page


def ruling(entry_id: str, order: int, **over: Any) -> dict[str, Any]:
    fields = {"kept": True, "order": order, "accepted": True, "reason": "", "details": {}, "words": ""}
    return {"id": entry_id, **fields, "repeated": False, **over}


def a_job(through: int, play: Play | None = None, packet: str = "p-1", number: str = "1001") -> dict[str, Any]:
    """A job as a contact brings it. Only tests of the sheet itself need its true state."""
    return {
        "number": number, "hash": f"h-{through}", "through": through, "packet": packet, "about_hash": f"a-{through}",
        "state": play.sheet.as_json() if play else {"job": JOB, "entries": through}, "open": True,
        "about": {"complaint": "", "promised_ms": None, "people": []},
    }  # fmt: skip


def contact(next_seq: int, **over: Any) -> dict[str, Any]:
    people = [{"id": one.id, "name": one.name, "roles": list(one.roles)} for one in (ADA, BEN)]
    return {
        "now_ms": NOW, "next_seq": next_seq, "bundle": "b1", "shop": SHOP, "people": people, "jobs": {}, "packets": {},
        "pictures": {}, "gone": [], "work": {}, "more": False, **over,
    }  # fmt: skip


def with_job(next_seq: int, through: int, **over: Any) -> dict[str, Any]:
    return contact(next_seq, jobs={JOB: a_job(through)}, packets={"p-1": {"steps": []}}, pictures={"p-1": {}}, **over)


def waiting_ids(page: Page) -> list[str]:
    return [row["id"] for row in page.pocket("waiting", 100)]


# --- 1. What is noted is written before it is said to be saved -------------------------------------------------------


def test_what_is_noted_is_written_before_it_is_said_to_be_saved(world: World, page: Page) -> None:
    key = page.begins("(page, ...args) => page.pocket.note(...args)", [a_note("e-1")], HELD_BY_ADA)
    before = len(world.log())

    world.go(until=lambda: page.has_ended(key))

    assert page.world.kept_ids() == ["e-1"]
    assert world.log()[before:] == [
        {"stores": ["meta", "entries"], "mode": "readwrite", "durability": "strict", "outcome": "complete"}
    ]


def test_what_is_prepared_meanwhile_is_told_the_very_rows_and_before_they_are_kept(world: World, page: Page) -> None:
    work = """async (page, entries, heard) => {
      const rows = await page.pocket.note(entries, heard, (early) => { page.prepared = early; });
      return { rows, told: page.prepared };
    }"""
    key = page.begins(work, [a_note("e-1"), a_note("e-2")], HELD_BY_ADA)
    world.go(until=lambda: bool(world.value(f"!!browser.pages[{json.dumps(page.id)}].prepared")))

    assert (page.has_ended(key), world.kept_ids()) == (False, [])

    world.go()
    found = page.found(key)
    assert found["told"] == found["rows"]
    assert world.kept_ids() == ["e-1", "e-2"]


@pytest.mark.parametrize("where", ["fail_commits", "fail_puts"])
def test_what_was_prepared_meanwhile_does_not_make_a_failed_write_a_kept_one(
    world: World, page: Page, where: str
) -> None:
    before = world.dump()
    getattr(world, where)("QuotaExceededError")

    with pytest.raises(Failed) as failed:
        page.does("(page, ...args) => page.pocket.note(...args, () => {})", [a_note("e-1")], HELD_BY_ADA)

    assert failed.value.code == "quota"
    assert world.dump() == before


def test_a_page_killed_before_the_write_has_noted_nothing(world: World, page: Page) -> None:
    key = page.begins("(page, ...args) => page.pocket.note(...args)", [a_note("e-1")], HELD_BY_ADA)
    steps = 0
    while not page.has_ended(key) and not page.world.kept_ids():
        world.step()
        steps += 1
    assert steps > 4  # so that there is something to be killed in the midst of

    for cut in range(steps):
        other = World(Network(no_office), NOW)
        again = enrolled(other)
        again.begins("(page, ...args) => page.pocket.note(...args)", [a_note("e-1")], HELD_BY_ADA)
        for _ in range(cut):
            other.step()
        again.kill()
        other.go()

        next_page = other.opened()
        assert other.kept_ids() == []
        assert [row["seq"] for row in next_page.notes("e-2")] == [1]


def test_a_page_killed_between_the_write_and_its_word_has_noted_it(world: World, page: Page) -> None:
    key = page.begins("(page, ...args) => page.pocket.note(...args)", [a_note("e-1")], HELD_BY_ADA)
    world.go(until=lambda: page.world.kept_ids() == ["e-1"])
    assert not page.has_ended(key)
    page.kill()

    after = world.opened()

    assert waiting_ids(after) == ["e-1"]
    # The person does not know, and taps again: the same form, the same id.
    assert [row["seq"] for row in after.notes("e-1")] == [1]
    assert after.pocket("debt")["waiting"] == {"count": 1, "from": 1}


def test_what_is_sent_is_what_was_written_byte_for_byte(page: Page) -> None:
    (row,) = page.notes("e-1")

    assert row["text"] == canonical({**a_note("e-1"), "tablet": "t-1", "seq": 1}).decode()
    assert page.pocket("waiting", 10) == [row]
    assert row["office"] is None


# --- 2. A form's entries are noted together or not at all ------------------------------------------------------------


def test_a_forms_entries_are_noted_together_or_not_at_all(world: World, page: Page) -> None:
    # The second entry's put fails: entries are added one by one, then the counter is put.
    world.engine.run("browser.disk.faults.puts.push(null, 'UnknownError')")

    with pytest.raises(Failed) as failed:
        page.notes("e-1", "e-2")

    assert (failed.value.name, failed.value.code) == ("Error", "unknown")
    assert page.world.kept_ids() == []
    assert [row["seq"] for row in page.notes("e-1", "e-2")] == [1, 2]


# --- 3. Numbers have no gaps and none is used twice ------------------------------------------------------------------


def test_numbers_have_no_gaps_and_none_is_used_twice_however_many_pages_write(world: World, page: Page) -> None:
    others = [world.opened() for _ in range(3)]
    for i in range(5):
        for place, one in enumerate([page, *others]):
            one.begins("(page, ...args) => page.pocket.note(...args)", [a_note(f"e-{i}-{place}")], HELD_BY_ADA)
    world.go()

    rows = page.pocket("waiting", 100)
    assert [row["seq"] for row in rows] == list(range(1, 21))
    assert len({row["id"] for row in rows}) == 20
    assert [json.loads(row["text"])["seq"] for row in rows] == list(range(1, 21))


def test_a_second_tap_keeps_its_number(page: Page) -> None:
    first = page.notes("e-1", "e-2")

    assert page.notes("e-1", "e-2", "e-3")[:2] == first
    assert page.world.kept_ids() == ["e-1", "e-2", "e-3"]


def test_numbers_go_on_after_everything_has_left(page: Page) -> None:
    page.notes("e-1", "e-2")
    page.pocket("heardBack", [ruling("e-1", 10), ruling("e-2", 11)])
    page.pocket("takeIn", with_job(3, through=11), NOW)
    assert page.world.kept_ids() == []

    assert [row["seq"] for row in page.notes("e-3")] == [3]
    assert page.pocket("debt")["said_seq"] == 3


def test_a_tablet_set_back_goes_on_behind_the_numbers_the_office_has(page: Page) -> None:
    """Its disk was put back to an older state: the office has numbers up to 20, and the tablet remembers 2."""
    page.notes("e-1", "e-2")

    page.pocket("takeIn", contact(next_seq=21), NOW)

    assert [row["seq"] for row in page.notes("e-3")] == [21]
    assert waiting_ids(page) == ["e-1", "e-2", "e-3"]


# --- 4. An entry leaves only when … ----------------------------------------------------------------------------------


def test_an_entry_leaves_only_when_the_office_has_ruled_on_it_and_the_offices_own_sheet_holds_it(page: Page) -> None:
    page.notes("e-1", "e-2")

    page.pocket("takeIn", with_job(1, through=40), NOW)
    assert page.world.kept_ids() == ["e-1", "e-2"]  # the sheet may hold it; nobody has said so

    page.pocket("heardBack", [ruling("e-1", 40), ruling("e-2", 41)])
    assert page.world.kept_ids() == ["e-1", "e-2"]  # ruled on; the kept sheet was made before

    page.pocket("takeIn", with_job(3, through=40), NOW)
    assert page.world.kept_ids() == ["e-2"]

    page.pocket("takeIn", with_job(3, through=41), NOW)
    assert page.world.kept_ids() == []


def test_what_was_set_aside_leaves_in_the_same_way(page: Page) -> None:
    page.notes("e-1")
    page.pocket("heardBack", [ruling("e-1", 9, accepted=False, reason="held", words="It is held.")])

    (row,) = page.pocket("sheet", "1001")["later"] if page.pocket("sheet", "1001") else [None]
    assert row is None  # no sheet of this job has come yet

    page.pocket("takeIn", with_job(2, through=8), NOW)
    (row,) = page.pocket("sheet", "1001")["later"]
    assert row["office"] == {"order": 9, "accepted": False, "reason": "held", "details": {}, "words": "It is held."}

    page.pocket("takeIn", with_job(2, through=9), NOW)
    assert page.pocket("sheet", "1001")["later"] == []


def test_what_the_kept_sheet_holds_already_leaves_though_the_sheet_has_not_changed(page: Page) -> None:
    """An answer was lost, and its entries came with the sheet before they were ruled on here."""
    page.notes("e-1")
    page.pocket("takeIn", with_job(2, through=9), NOW)
    page.pocket("heardBack", [ruling("e-1", 9, repeated=True)])

    page.pocket("takeIn", contact(2), NOW)

    assert page.world.kept_ids() == []


def test_entries_leave_with_a_job_that_has_gone(page: Page) -> None:
    page.notes("e-1")
    page.pocket("takeIn", with_job(1, through=8), NOW)
    page.pocket("heardBack", [ruling("e-1", 9)])

    page.pocket("takeIn", contact(2, gone=[JOB]), NOW)

    assert page.world.kept_ids() == []
    assert page.pocket("jobs") == []
    assert page.pocket("sheet", "1001") is None


# --- 5. What the office sends never takes an entry away that is still to be sent -------------------------------------


def test_what_the_office_sends_never_takes_an_entry_away_that_is_still_to_be_sent(page: Page) -> None:
    page.pocket("takeIn", with_job(1, through=8), NOW)
    page.notes("e-1")

    page.pocket("takeIn", with_job(1, through=99), NOW)
    page.pocket("takeIn", contact(1, gone=[JOB]), NOW)

    assert waiting_ids(page) == ["e-1"]
    assert page.pocket("sheet", "1001")["later"][0]["id"] == "e-1"


def test_an_office_set_back_to_an_older_copy_is_given_again_what_it_had_ruled_on(page: Page) -> None:
    """Order numbers are given out anew then: an old one says nothing about what the sheet holds."""
    page.pocket("takeIn", with_job(1, through=8), NOW)
    page.notes("e-1", "e-2", "e-3")
    page.pocket("heardBack", [ruling("e-1", 9), ruling("e-2", 10), ruling("e-3", 11)])

    page.pocket("takeIn", with_job(2, through=15), NOW)

    assert waiting_ids(page) == ["e-2", "e-3"]
    assert page.world.kept_ids() == ["e-2", "e-3"]


def test_entries_of_a_job_that_a_set_back_office_does_not_know_stay(page: Page) -> None:
    page.pocket("takeIn", with_job(1, through=8), NOW)
    page.notes("e-1")
    page.pocket("heardBack", [ruling("e-1", 9)])

    page.pocket("takeIn", contact(1, gone=[JOB]), NOW)

    assert waiting_ids(page) == ["e-1"]
    assert page.pocket("sheet", "1001") is not None


# --- 6. The queue is the tablet's, each entry its person's -----------------------------------------------------------


def test_who_signs_out_or_in_takes_nothing_along(page: Page) -> None:
    page.pocket("signIn", {"person": ADA.id, "name": ADA.name, "roles": list(ADA.roles)})
    page.notes("e-1")
    page.pocket("signOut")
    page.pocket("signIn", {"person": BEN.id, "name": BEN.name, "roles": list(BEN.roles)})
    heard = {"name": BEN.name, "roles": list(BEN.roles), "at_ms": NOW + 1}
    page.pocket("note", [a_note("e-2", who=BEN)], heard)

    rows = page.pocket("waiting", 10)

    assert [(json.loads(row["text"])["person"], row["heard"]["name"]) for row in rows] == [
        (ADA.id, ADA.name),
        (BEN.id, BEN.name),
    ]
    assert page.pocket("me")["person"] == BEN.id


def test_who_is_no_longer_of_this_shop_is_signed_out_and_their_entries_stay(page: Page) -> None:
    page.pocket("signIn", {"person": ADA.id, "name": ADA.name, "roles": list(ADA.roles)})
    page.pocket("keepCheck", {"id": ADA.id}, {"hash": "h"})
    page.notes("e-1")

    only_ben = [{"id": BEN.id, "name": BEN.name, "roles": list(BEN.roles)}]
    page.pocket("takeIn", contact(1, people=only_ben), NOW)

    assert page.pocket("me") is None
    assert [one["id"] for one in page.pocket("people")] == [BEN.id]
    assert waiting_ids(page) == ["e-1"]


def test_roles_that_change_at_the_office_change_for_whoever_is_signed_in(page: Page) -> None:
    page.pocket("signIn", {"person": ADA.id, "name": ADA.name, "roles": ["technician"]})
    page.pocket("keepCheck", {"id": ADA.id}, {"hash": "h"})

    people = [{"id": ADA.id, "name": "Ada L.", "roles": ["foreman", "technician"]}]
    page.pocket("takeIn", contact(1, people=people), NOW)

    assert page.pocket("me") == {"person": ADA.id, "name": "Ada L.", "roles": ["foreman", "technician"]}
    assert page.pocket("people") == [{**people[0], "check": {"hash": "h"}}]


# --- 7. A write that fails is told, and leaves everything as it was --------------------------------------------------


@pytest.mark.parametrize(
    ("fault", "code"), [("QuotaExceededError", "quota"), ("UnknownError", "unknown"), ("DataError", "unknown")]
)
@pytest.mark.parametrize("where", ["fail_commits", "fail_puts"])
def test_a_write_that_fails_is_told_and_leaves_everything_as_it_was(
    world: World, page: Page, where: str, fault: str, code: str
) -> None:
    page.notes("e-1")
    before = world.dump()
    fail: Callable[[str], None] = getattr(world, where)
    fail(fault)

    with pytest.raises(Failed) as failed:
        page.notes("e-2")

    assert failed.value.code == code
    assert world.dump() == before
    assert [row["seq"] for row in page.notes("e-2")] == [2]


def test_a_full_disk_keeps_what_it_has_and_takes_more_when_there_is_room(world: World, page: Page) -> None:
    page.notes("e-1")
    world.room(10)
    with pytest.raises(Failed) as failed:
        page.notes("e-2")
    assert failed.value.code == "quota"
    assert waiting_ids(page) == ["e-1"]

    world.room(None)

    assert [row["seq"] for row in page.notes("e-2")] == [2]


def test_a_contact_that_cannot_be_kept_changes_nothing(world: World, page: Page) -> None:
    page.notes("e-1")
    page.pocket("heardBack", [ruling("e-1", 9)])
    before = world.dump()
    world.fail_commits("QuotaExceededError")

    with pytest.raises(Failed) as failed:
        page.pocket("takeIn", with_job(2, through=9), NOW)

    assert failed.value.code == "quota"
    assert world.dump() == before


@pytest.mark.parametrize("told", [{}, {"jobs": None}, {**contact(1), "people": 3}, {**contact(1), "gone": 7}])
def test_an_answer_that_makes_no_sense_changes_nothing(world: World, page: Page, told: dict[str, Any]) -> None:
    page.notes("e-1")
    before = world.dump()

    with pytest.raises(Failed) as failed:
        page.pocket("takeIn", told, NOW)

    assert failed.value.code == "unknown"
    assert world.dump() == before


def test_a_tablet_that_is_not_enrolled_notes_nothing(world: World) -> None:
    page = world.opened()

    with pytest.raises(Failed) as failed:
        page.notes("e-1")

    assert failed.value.code == "unknown"
    assert page.world.kept_ids() == []


NEWER = """(page) => new Promise((resolve, reject) => {
    const request = page.factory.open('cotterpin', 99);
    request.onsuccess = () => { request.result.close(); resolve(request.result.version); };
    request.onerror = () => reject(request.error);
})"""


def test_a_page_whose_pocket_a_newer_page_renewed_says_so(world: World, page: Page) -> None:
    assert world.page().does(NEWER) == 99

    with pytest.raises(Failed) as failed:
        page.notes("e-1")
    assert failed.value.code == "closed"
    with pytest.raises(Failed) as failed:
        page.pocket("me")
    assert failed.value.code == "closed"
    with pytest.raises(Failed) as failed:
        world.page().opens()
    assert failed.value.code == "closed"


def test_a_pocket_that_another_page_will_not_let_go_of_is_said_to_be_blocked(world: World) -> None:
    """A page of an older kind, which does not let go when it is asked to."""
    holder = world.page()
    holder.does(
        "(page) => new Promise((resolve) => { const request = page.factory.open('cotterpin', 0.5);"
        " request.onsuccess = () => { page.db = request.result; resolve(null); }; })"
    )
    page = world.page()
    key = page.begins("(page) => page.m['pocket.js'].openPocket(page.factory, null)")
    world.go()
    with pytest.raises(Unfinished):
        page.found(key)

    world.wait(2_000)

    with pytest.raises(Failed) as failed:
        page.found(key)
    assert failed.value.code == "blocked"
    # Once it lets go, the one that had given up leaves no connection behind that blocks the next form of the pocket.
    holder.does("(page) => page.db.close()")
    assert world.page().does(NEWER) == 99


# --- 8. What the office could not take -------------------------------------------------------------------------------


def test_what_the_office_could_not_take_stays_here_and_holds_up_nothing(page: Page) -> None:
    page.notes("e-1", "e-2")
    refusal = {"id": "e-1", "kept": False, "problem": "id_taken", "words": "Another entry has this id."}

    page.pocket("heardBack", [refusal, {"id": "e-2", "kept": False, "problem": "seq_gap", "words": "Send 1 first."}])

    assert waiting_ids(page) == ["e-2"]
    debt = page.pocket("debt")
    assert (debt["not_taken"], debt["oldest"], debt["waiting"]) == (1, 2, {"count": 1, "from": 2})
    page.pocket("takeIn", with_job(3, through=99), NOW)
    page.pocket("takeIn", contact(3, gone=[JOB]), NOW)
    assert page.world.kept_ids() == ["e-1", "e-2"]
    later = page.pocket("sheet", "1001")["later"]
    assert later[0]["office"] == {"kept": False, "problem": "id_taken", "words": "Another entry has this id."}


def test_what_the_office_could_not_take_is_offered_again_to_a_renewed_office(page: Page) -> None:
    page.notes("e-1")
    page.pocket("takeIn", contact(1, bundle="b1"), NOW)
    page.pocket("heardBack", [{"id": "e-1", "kept": False, "problem": "entry_unreadable", "words": "No."}])

    page.pocket("takeIn", contact(2, bundle="b1"), NOW)
    assert waiting_ids(page) == []
    page.pocket("takeIn", contact(2, bundle="b2"), NOW)

    assert waiting_ids(page) == ["e-1"]


# --- 9. Older forms --------------------------------------------------------------------------------------------------


def a_filed_example(world: World) -> Any:
    """What wrote `tests/pocket_forms/1.json`. A file stays as it is; this changes only together with a new form."""
    page = enrolled(world)
    play = Play(a_packet())
    packet = play.sheet.packet
    assert packet is not None
    page.pocket(
        "takeIn",
        contact(
            1,
            jobs={JOB: a_job(1, play, packet.hash)},
            packets={packet.hash: packet.as_json()},
            pictures={packet.hash: {"stars": {}}},
            work={ADA.id: {"hash": "w-1", "view": {"title": "My work"}}},
        ),
        NOW - 7_000,
    )
    page.pocket("signIn", {"person": ADA.id, "name": ADA.name, "roles": list(ADA.roles)})
    page.pocket("keepCheck", {"id": ADA.id}, {"salt": "00", "rounds": 1, "hash": "00", "tries": 0, "until_ms": 0})
    page.notes("e-1", "e-2", "e-3")
    page.pocket("heardBack", [ruling("e-1", 2)])
    return world.dump()


@pytest.mark.parametrize("form", sorted(FORMS.glob("*.json")), ids=lambda path: path.stem)
def test_what_was_written_by_an_older_form_is_opened_and_sent_by_this_one(world: World, form: Path) -> None:
    filed = json.loads(form.read_text("utf-8"))
    world.restore(filed)

    page = world.opened()

    assert page.pocket("tablet") == TABLET
    assert page.pocket("me")["person"] == ADA.id
    assert page.pocket("here")["clock"] == {"offset_ms": 7_000}
    assert page.pocket("work", ADA.id)["view"] == {"title": "My work"}
    assert page.pocket("people")[0]["check"]["rounds"] == 1
    assert waiting_ids(page) == ["e-2", "e-3"]
    assert [row["seq"] for row in page.notes("e-4")] == [4]
    shown = page.does(SHEET_NOW, "1001", json.loads(RULES_FILE.read_text("utf-8")))
    assert shown["waiting"] == ["e-2", "e-3", "e-4"]
    # Sent byte for byte as they were written, whatever wrote them.
    texts = [row["text"] for _, row in filed["cotterpin"]["stores"]["entries"]["rows"]][1:]
    sent: list[str] = []

    def office(request: Request) -> Reply:
        if request.path == "/sync/contact":
            return Reply.of(contact(5))
        sent.append(request.body)
        rows = request.data["entries"]
        answers = [ruling(one["id"], 10 + place) for place, one in enumerate(rows)]
        return Reply.of({"next_seq": 5, "answers": answers})

    world.network.office = office
    assert page.exchanges() == "answered"
    assert sent[0].startswith(f'{{"tablet":"t-1","number":0,"went_back":0,"entries":[{",".join(texts)},')


def test_every_form_of_the_pocket_has_its_filed_example(world: World) -> None:
    """A new form is a new step of the ladder and a new file, written by `a_filed_example`."""
    newest = enrolled(world).world.dump()["cotterpin"]["version"]

    assert sorted(int(path.stem) for path in FORMS.glob("*.json")) == list(range(1, newest + 1))
    filed = json.loads((FORMS / f"{newest}.json").read_text("utf-8"))["cotterpin"]["stores"]
    now = a_filed_example(World(Network(no_office), NOW))["cotterpin"]["stores"]
    assert {name: (one["keyPath"], one["indexes"]) for name, one in filed.items()} == {
        name: (one["keyPath"], one["indexes"]) for name, one in now.items()
    }
    assert {name: [sorted(row) for _, row in one["rows"]] for name, one in filed.items()} == {
        name: [sorted(row) for _, row in one["rows"]] for name, one in now.items()
    }


# --- What is shown ---------------------------------------------------------------------------------------------------

SHEET_NOW = """async (page, number, table) => {
    const kept = await page.pocket.sheet(number);
    const { sheet, rulings, waiting } = page.m['sheet_now.js'].sheetNow(kept, new page.m['rules.js'].Rules(table));
    return { state: page.m['sheet.js'].stateOf(sheet), rulings, waiting: [...waiting] };
}"""
TABLE = json.loads(RULES_FILE.read_text("utf-8"))


def takes_in(page: Page, play: Play, next_seq: int) -> None:
    packet = play.sheet.packet
    assert packet is not None
    job = a_job(len(play.history), play, packet.hash)
    told = contact(next_seq, jobs={JOB: job}, packets={packet.hash: packet.as_json()}, pictures={packet.hash: {}})
    page.pocket("takeIn", told, NOW)


def test_the_sheet_is_the_offices_with_what_was_noted_here_since(page: Page) -> None:
    play = Play(a_packet())
    takes_in(page, play, 1)
    page.notes("e-1", "e-2")

    shown = page.does(SHEET_NOW, "1001", TABLE)

    assert shown["state"]["entries"] == play.sheet.entries + 2
    assert [one["text"] for one in shown["state"]["notes"]] == ["Note e-1", "Note e-2"]
    assert shown["waiting"] == ["e-1", "e-2"]
    assert all(one["accepted"] for one in shown["rulings"].values())


def test_a_hold_that_came_meanwhile_shows_at_once(page: Page) -> None:
    play = Play(a_packet())
    takes_in(page, play, 1)
    basis = replace(play.sees("look"), holds=())
    done = e.entry_json(an_entry(e.TestRecorded("look", "none", Verdict.SOUND), ADA, id="n-1", basis=basis))
    page.pocket("note", [done], HELD_BY_ADA)
    assert page.does(SHEET_NOW, "1001", TABLE)["rulings"]["n-1"]["accepted"] is True

    play.hangs_tag(reason="The jack leaks")
    takes_in(page, play, 1)

    assert page.does(SHEET_NOW, "1001", TABLE)["rulings"]["n-1"]["reason"] == "away_when_held"


def test_the_offices_ruling_counts_where_there_is_one(page: Page) -> None:
    takes_in(page, Play(a_packet()), 1)
    page.notes("e-1", "e-2")
    page.pocket("heardBack", [ruling("e-1", 50, accepted=False, reason="wrong_role", details={"wanted": "foreman"})])

    shown = page.does(SHEET_NOW, "1001", TABLE)

    assert shown["rulings"]["e-1"]["reason"] == "wrong_role"
    assert shown["waiting"] == ["e-2"]
    assert [one["text"] for one in shown["state"]["notes"]] == ["Note e-2"]


def test_what_the_offices_sheet_holds_already_is_not_shown_twice(page: Page) -> None:
    """Its ruling came after the sheet that holds it: an answer had been lost."""
    play = Play(a_packet())
    page.notes("e-9")
    assert play.does(ADA, e.NoteAdded("Note e-9"), id="e-9").accepted
    takes_in(page, play, 2)
    page.pocket("heardBack", [ruling("e-9", len(play.history), repeated=True)])

    shown = page.does(SHEET_NOW, "1001", TABLE)

    assert shown["state"] == json.loads(canonical(play.sheet.as_json()))
    assert shown["waiting"] == []


def test_what_the_office_could_not_take_is_shown_as_on_this_tablet_only(page: Page) -> None:
    takes_in(page, Play(a_packet()), 1)
    page.notes("e-1")
    page.pocket("heardBack", [{"id": "e-1", "kept": False, "problem": "id_taken", "words": "No."}])

    assert page.does(SHEET_NOW, "1001", TABLE)["waiting"] == ["e-1"]


# --- What is kept, and what is told ----------------------------------------------------------------------------------


def test_packets_nobody_needs_any_more_leave(page: Page) -> None:
    page.pocket("takeIn", with_job(1, through=1), NOW)
    newer = contact(1, jobs={JOB: a_job(2, packet="p-2")}, packets={"p-2": {"steps": []}}, pictures={"p-2": {"a": 1}})

    page.pocket("takeIn", newer, NOW)

    assert page.pocket("pictured") == ["p-2"]
    assert page.pocket("sheet", "1001")["base"]["packet"] == {"steps": []}
    assert page.pocket("sheet", "1001")["pictures"] == {"a": 1}


def test_my_work_of_those_who_have_left_leaves(page: Page) -> None:
    page.pocket("takeIn", contact(1, work={ADA.id: {"hash": "w", "view": {}}}), NOW)
    assert page.pocket("works") == {ADA.id: "w"}

    page.pocket("takeIn", contact(1, people=[{"id": BEN.id, "name": BEN.name, "roles": []}]), NOW)

    assert page.pocket("works") == {}
    assert page.pocket("work", ADA.id) is None


def test_the_clocks_offset_is_the_offices_time_less_the_tablets(page: Page) -> None:
    assert page.pocket("here")["clock"] == {"offset_ms": 0}
    assert page.pocket("answeredAt") is None

    page.pocket("takeIn", contact(1), NOW - 3_600_000)

    assert page.pocket("here")["clock"] == {"offset_ms": 3_600_000}
    assert page.pocket("answeredAt") == NOW - 3_600_000
    assert page.pocket("shop") == SHOP


def test_every_page_hears_what_one_of_them_noted_or_took_in(world: World, page: Page) -> None:
    other = world.opened()
    for one in (page, other):
        one.does("(page) => { page.pocket.onChange((jobs, noted) => page.told.push([jobs, noted])); }")

    page.notes("e-1")
    page.pocket("heardBack", [ruling("e-1", 9)])
    page.pocket("takeIn", with_job(2, through=9), NOW)
    page.pocket("takeIn", contact(2), NOW)
    page.pocket("takeIn", contact(2, work={ADA.id: {"hash": "w-1", "view": {}}}), NOW)

    told = [[[JOB], True], [[JOB], False], [[JOB], False], [[], False]]
    assert page.told == told
    assert other.told == told


def test_a_page_that_was_closed_hears_nothing_and_is_in_nobodys_way(world: World, page: Page) -> None:
    page.does("(page) => { page.pocket.onChange((jobs) => page.told.push(jobs)); page.pocket.close(); }")

    world.opened().notes("e-1")

    assert page.told == []


def test_jobs_and_steps_may_be_called_anything(page: Page) -> None:
    odd = contact(1, jobs={"constructor": a_job(1, number="__proto__")}, packets={"p-1": {}}, pictures={})
    page.pocket("takeIn", odd, NOW)
    page.notes("toString", job="constructor")
    page.pocket("heardBack", [ruling("toString", 2)])

    assert page.pocket("sheet", "__proto__")["later"][0]["id"] == "toString"
    page.pocket("takeIn", contact(2), NOW)
    assert page.world.kept_ids() == ["toString"]


def test_a_wiped_tablet_knows_nothing_and_says_so(world: World, page: Page) -> None:
    page.notes("e-1")
    page.kill()
    world.wipe()

    after = world.opened()

    assert after.pocket("tablet") is None
    assert after.pocket("debt") == {
        "said_seq": 0, "oldest": 0, "waiting": {"count": 0, "from": 0}, "not_taken": 0
    }  # fmt: skip
    assert after.exchanges() == "unknown"
