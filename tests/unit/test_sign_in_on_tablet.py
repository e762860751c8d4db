"""Signing in at a tablet: by the office while it answers, by what the tablet keeps while it does not."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, replace
from typing import Any

import pytest

from tests.builders import ADA, BEN, JOB, Someone
from tests.offices import MONDAY, PIN, Workshop, a_small_job, an_office
from tests.tablet_harness import Network, Page, Reply, World, by_client
from tests.tablets import ATablet, a_tablet, the_whole_app

START = int(MONDAY.timestamp() * 1_000)
DONE = {"problem": None, "words": ""}
MINUTE = 60_000


@dataclass
class Shop:
    here: Workshop
    tablet: ATablet
    network: Network
    world: World

    def closes(self) -> None:
        """The office does not answer any more."""
        self.network.otherwise = "lost"

    def opens(self) -> None:
        self.network.otherwise = "fine"


@pytest.fixture
def shop() -> Shop:
    here = an_office()
    a_small_job(here)
    tablet = a_tablet(here, the_whole_app(here))
    network = Network(by_client(tablet.client))
    return Shop(here, tablet, network, World(network, START))


@pytest.fixture
def page(shop: Shop) -> Page:
    page = shop.world.opened()
    page.pocket("keepTablet", {"id": shop.tablet.id, "name": "Bench", "secret": shop.tablet.secret})
    assert page.exchanges() == "answered"
    shop.network.seen.clear()
    return page


@pytest.fixture
def known(shop: Shop, page: Page) -> Page:
    """A tablet at which Ada has signed in before, and which the office does not answer now."""
    assert page.signs_in(ADA.id, PIN) == DONE
    page.pocket("signOut")
    shop.closes()
    return page


def refused(code: str, **details: Any) -> dict[str, Any]:
    return {"problem": {"code": code, "field": "pin", "details": details}, "words": ""}


def check_of(page: Page, who: Someone = ADA) -> Any:
    (found,) = [one for one in page.pocket("people") if one["id"] == who.id]
    return found.get("check")


# --- By the office ---------------------------------------------------------------------------------------------------


def test_the_office_signs_a_person_in_and_the_tablet_keeps_a_slow_check(shop: Shop, page: Page) -> None:
    assert page.signs_in(ADA.id, PIN) == DONE

    assert page.pocket("me") == {"person": ADA.id, "name": ADA.name, "roles": list(ADA.roles), "language": ""}
    check = check_of(page)
    made = hashlib.pbkdf2_hmac("sha256", PIN.encode(), check["salt"].encode(), 600_000)
    assert check == {"salt": check["salt"], "rounds": 600_000, "hash": made.hex(), "tries": 0, "until_ms": 0}
    assert len(check["salt"]) == 32
    assert shop.tablet.client.cookies  # signed in at the office's own pages too
    assert [one.person for one in shop.here.all("tablet_people")] == [ADA.id]


def test_the_pin_itself_is_nowhere_on_the_tablet(shop: Shop, page: Page) -> None:
    secret = "88776655"
    person = shop.here.get("people", ADA.id)
    shop.here.save("people", replace(person, pin_hash=shop.here.office.pins.hash(secret)))
    assert page.signs_in(ADA.id, secret) == DONE

    assert secret not in json.dumps(shop.world.dump())


def test_two_people_with_one_pin_have_nothing_in_common(page: Page) -> None:
    assert page.signs_in(ADA.id, PIN) == page.signs_in(BEN.id, PIN) == DONE

    assert check_of(page, ADA)["salt"] != check_of(page, BEN)["salt"]
    assert check_of(page, ADA)["hash"] != check_of(page, BEN)["hash"]


def test_the_offices_refusal_is_said_in_its_own_words(page: Page) -> None:
    found = page.signs_in(ADA.id, "0000")

    assert found["problem"] is None
    assert found["words"].endswith(".")
    assert page.pocket("me") is None
    assert check_of(page) is None


def test_a_pin_changed_at_the_office_opens_the_tablet_no_more(shop: Shop, known: Page) -> None:
    shop.opens()
    person = shop.here.get("people", ADA.id)
    shop.here.save("people", replace(person, pin_hash=shop.here.office.pins.hash("1111")))

    assert known.signs_in(ADA.id, PIN)["words"]
    shop.closes()

    assert known.signs_in(ADA.id, PIN) == refused("pin_not_here", name=ADA.name)


def test_a_wrong_pin_at_the_office_leaves_the_kept_check(shop: Shop, known: Page) -> None:
    shop.opens()
    assert known.signs_in(ADA.id, "0000")["words"]
    shop.closes()

    assert known.signs_in(ADA.id, PIN) == DONE


def test_a_person_locked_at_the_office_keeps_the_check_here(shop: Shop, known: Page) -> None:
    shop.opens()
    for _ in range(4):
        known.signs_in(ADA.id, "0000")
    assert known.signs_in(ADA.id, PIN)["words"]  # right, and locked
    shop.closes()

    assert known.signs_in(ADA.id, PIN) == DONE


# --- While the office does not answer --------------------------------------------------------------------------------


def test_who_has_signed_in_here_before_can_without_the_office(known: Page) -> None:
    assert known.signs_in(ADA.id, PIN) == DONE

    assert known.pocket("me") == {"person": ADA.id, "name": ADA.name, "roles": list(ADA.roles), "language": ""}


def test_who_has_not_cannot(known: Page) -> None:
    assert known.signs_in(BEN.id, PIN) == refused("pin_not_here", name=BEN.name)
    assert known.pocket("me") is None


def test_somebody_unknown_cannot(known: Page) -> None:
    for person in ("p-nobody", "", "constructor"):
        assert known.signs_in(person, PIN) == refused("choose_person")
    assert "p-nobody" not in json.dumps(known.pocket("people"))


def test_the_office_has_three_seconds(shop: Shop, known: Page) -> None:
    shop.network.otherwise = "swallowed"
    key = known.begins(
        "(page, person, pin) => page.m['sign_in.js'].signInHere({ pocket: page.pocket,"
        " post: page.m['sender.js'].postFrom(page.pocket, 3_000), now: page.now, crypto: page.crypto }, person, pin)",
        ADA.id,
        PIN,
    )

    shop.world.wait(2_999)
    assert not known.has_ended(key)
    shop.world.wait(1)

    assert known.found(key) == DONE


@pytest.mark.parametrize(
    "stranger",
    [
        Reply(200, "<html>Sign in to this Wi-Fi</html>"),
        Reply(401, '{"problem": "tablet_unknown", "words": "…"}'),
        Reply(500, "Internal Server Error"),
        Reply(502, "<html>Bad gateway</html>"),
    ],
    ids=lambda one: str(one.status),
)
def test_what_is_not_the_offices_answer_is_none(shop: Shop, known: Page, stranger: Reply) -> None:
    shop.network.otherwise = stranger

    assert known.signs_in(ADA.id, PIN) == DONE
    assert known.signs_in(ADA.id, "0000") == refused("pin_wrong", left=2)


def test_a_person_of_this_shop_no_more_cannot_once_the_tablet_has_heard_of_it(shop: Shop, known: Page) -> None:
    shop.opens()
    shop.here.save("people", replace(shop.here.get("people", ADA.id), active=False))
    assert known.exchanges() == "answered"
    shop.closes()

    assert known.signs_in(ADA.id, PIN) == refused("choose_person")


def test_the_check_survives_what_the_office_says_of_people(shop: Shop, known: Page) -> None:
    shop.opens()
    assert known.exchanges() == "answered"
    shop.closes()

    assert known.signs_in(ADA.id, PIN) == DONE


# --- Wrong tries -----------------------------------------------------------------------------------------------------


def test_wrong_tries_are_slowed_and_then_locked(shop: Shop, known: Page) -> None:
    """Three free tries, waits doubling from five seconds, after eight a quarter of an hour: D-004."""
    said = []
    for _ in range(9):
        said.append(known.signs_in(ADA.id, "0000")["problem"])
        shop.world.wait(said[-1]["details"].get("seconds", 0) * 1_000)

    assert [one["code"] for one in said] == ["pin_wrong"] * 2 + ["pin_locked"] * 7
    assert [one["details"] for one in said[:2]] == [{"left": 2}, {"left": 1}]
    assert [one["details"]["seconds"] for one in said[2:]] == [5, 10, 20, 40, 80, 900, 900]
    assert known.signs_in(ADA.id, PIN) == DONE
    assert known.signs_in(ADA.id, "0000") == refused("pin_wrong", left=2)


def test_a_right_pin_does_not_open_while_it_is_locked_and_costs_no_try(shop: Shop, known: Page) -> None:
    for _ in range(3):
        known.signs_in(ADA.id, "0000")

    assert known.signs_in(ADA.id, PIN) == refused("pin_locked", seconds=5)
    shop.world.wait(2_000)
    assert known.signs_in(ADA.id, PIN) == refused("pin_locked", seconds=3)
    assert check_of(known)["tries"] == 3
    shop.world.wait(3_000)
    assert known.signs_in(ADA.id, PIN) == DONE
    assert check_of(known)["tries"] == 0


def test_one_persons_wrong_tries_lock_nobody_else(shop: Shop, known: Page) -> None:
    shop.opens()
    assert known.signs_in(BEN.id, PIN) == DONE
    shop.closes()
    for _ in range(3):
        known.signs_in(ADA.id, "0000")

    assert known.signs_in(ADA.id, PIN)["problem"]["code"] == "pin_locked"
    assert known.signs_in(BEN.id, PIN) == DONE


def test_tries_are_kept_through_a_reload_and_a_killed_page(shop: Shop, known: Page) -> None:
    for _ in range(2):
        known.signs_in(ADA.id, "0000")
    known.kill()
    again = shop.world.opened()

    assert again.signs_in(ADA.id, "0000") == refused("pin_locked", seconds=5)


def test_a_page_closed_while_it_looks_has_used_up_its_try(shop: Shop, known: Page) -> None:
    key = known.begins(
        "(page, person, pin) => page.m['sign_in.js'].signInHere({ pocket: page.pocket,"
        " post: page.m['sender.js'].postFrom(page.pocket, 3_000), now: page.now, crypto: page.crypto }, person, pin)",
        ADA.id,
        "0000",
    )
    shop.world.go(until=lambda: "'tries': 1" in str(shop.world.dump()["cotterpin"]["stores"]["people"]["rows"]))
    assert not known.has_ended(key)
    known.kill()

    assert shop.world.opened().signs_in(ADA.id, "0000") == refused("pin_wrong", left=1)


def test_two_pages_at_once_do_not_share_a_try(shop: Shop, known: Page) -> None:
    pages = [known, *(shop.world.opened() for _ in range(4))]
    keys = [
        page.begins(
            "(page, person) => page.m['sign_in.js'].signInHere({ pocket: page.pocket,"
            " post: page.m['sender.js'].postFrom(page.pocket, 3_000), now: page.now, crypto: page.crypto },"
            " person, '0000')",
            ADA.id,
        )
        for page in pages
    ]
    shop.world.go()

    codes = sorted(page.found(key)["problem"]["code"] for page, key in zip(pages, keys, strict=True))
    assert codes == ["pin_locked"] * 3 + ["pin_wrong"] * 2
    assert check_of(known)["tries"] == 3


@pytest.mark.parametrize("off", [-86_400_000, -3_600_000])
def test_a_clock_set_back_locks_for_no_longer_than_the_longest_lock_and_opens_nothing(
    shop: Shop, known: Page, off: int
) -> None:
    for _ in range(4):
        known.signs_in(ADA.id, "0000")
        shop.world.wait(5_000)
    known.sets_clock(off)

    assert known.signs_in(ADA.id, PIN) == refused("pin_locked", seconds=900)
    shop.world.wait(15 * MINUTE)
    assert known.signs_in(ADA.id, PIN) == DONE


# --- A full tablet ---------------------------------------------------------------------------------------------------


def test_a_tablet_that_cannot_write_says_so_and_signs_nobody_in(shop: Shop, page: Page) -> None:
    shop.world.fail_commits("QuotaExceededError")

    assert page.signs_in(ADA.id, PIN) == refused("not_kept.quota")
    assert page.pocket("me") is None


def test_a_check_that_cannot_be_kept_keeps_nobody_out(shop: Shop, page: Page) -> None:
    shop.world.engine.run("browser.disk.faults.commits.push(null, 'QuotaExceededError')")

    assert page.signs_in(ADA.id, PIN) == DONE
    assert page.pocket("me")["person"] == ADA.id
    assert check_of(page) is None


# --- Changing places -------------------------------------------------------------------------------------------------


def test_another_person_signs_in_while_entries_wait_and_each_stays_its_own(shop: Shop, known: Page) -> None:
    assert known.signs_in(ADA.id, PIN) == DONE
    known.notes("n-1", who=ADA)
    known.pocket("signOut")
    shop.opens()
    assert known.signs_in(BEN.id, PIN) == DONE
    known.notes("n-2", who=BEN)

    assert [json.loads(row["text"])["person"] for row in known.pocket("waiting", 10)] == [ADA.id, BEN.id]
    assert known.exchanges() == "answered"

    with shop.here.store.reading() as unit:
        sent = [row.heard.entry for row in unit.ledger.of_job(JOB) if row.heard.entry.tablet == shop.tablet.id]
    assert [(one.id, one.person) for one in sent] == [("n-1", ADA.id), ("n-2", BEN.id)]


def test_signing_out_here_signs_out_at_the_office_with_the_next_contact(shop: Shop, page: Page) -> None:
    assert page.signs_in(ADA.id, PIN) == DONE
    assert page.exchanges() == "answered"
    assert shop.tablet.client.get("/work", follow_redirects=False).status_code == 200

    page.pocket("signOut")
    shop.here.clock.forward(minutes=5)
    assert page.exchanges() == "answered"

    assert shop.tablet.client.get("/work", follow_redirects=False).status_code == 303
    assert page.pocket("me") is None
