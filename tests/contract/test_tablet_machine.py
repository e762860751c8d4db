"""Several tablets, the office's own forms, and whatever can go wrong between them: the real server, the real scripts.

Hypothesis chooses what happens next; after every step what has been acknowledged is in the ledger once, numbers have
no gap, nothing that was said to be saved is gone, and no gate stood open for what counts but by answers that count.
When all is quiet every tablet has the office's own sheet, byte for byte, and nothing left to send.

In the suite it runs for about a minute. `MADE_UP_DAYS=500 … pytest tests/contract/test_tablet_machine.py` makes so many
days, each twice as long. `tests/planted_faults.py` tells which faults it finds.
"""

from __future__ import annotations

import json
import os
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, ClassVar

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from app.domain import entry as e
from app.domain.case import Ruling
from app.domain.packet import Packet
from app.domain.problems import NotFound, Refused
from app.domain.records import JobState
from app.domain.sheet import Sheet
from app.use_cases.cancel_job import cancel_job
from app.use_cases.hand_back import hand_back
from app.use_cases.record_entry import OFFICE_TABLET
from app.use_cases.settle import lift_hold, settle_aside
from app.use_cases.verify import verify
from tests.builders import ADA, BEN, CLEAR, CLEO, FAY, GUS, Someone, a_fastener, a_figure, a_gate, a_step, with_step
from tests.gate_watch import GateWatch
from tests.several_tablets import (
    JOBS,
    KNOWING,
    PIN,
    WORDS,
    Bench,
    Killed,
    Move,
    Shop,
    fill,
    forms_in,
    known_sheet,
    next_move,
    pass_time,
    second_move,
    sleep,
)
from tests.tablet_harness import Reply

WHICH = st.integers(0, 2)
NUMBERS = st.sampled_from(["1001", "1001", "1001", "1002"])
PEOPLE = {one.id: one for one in (ADA, BEN, CLEO, FAY, GUS)}
WORKERS = st.sampled_from([ADA, BEN, GUS])
STRANGERS = [
    Reply(500, "Internal Server Error"),
    Reply(200, "<html>Sign in to this Wi-Fi</html>"),
    Reply(401, "<html>Sign in to this Wi-Fi</html>"),
]
FATES = st.sampled_from(
    ["lost", "answer_lost", "answer_lost", "twice", "slow", "held", "held", "swallowed", "answer_swallowed", "killed",
     "fine", "fine", *STRANGERS]
)  # fmt: skip
MINUTE = 60_000
HOURS = [0, -7_200_000, -3_600_000, -90_000, 90_000, 3_600_000, 86_400_000]
# What somebody does who does not do everything right.
ODD = [
    Move("measures", {"value.gap": "9"}), Move("trial", {"choice": "moves", "verdict": "sound", "reason": "A little"}),
    Move("gate-stands:front", {"answer.bears_on": "jack"}), Move("gate-stands:front", {"answer.shaken": ""}),
    Move("gate-stands:front", {"answer.label": "300"}), Move("gate-joint_separation:l1.undo", {"answer.clear": "no"}),
    Move("support", {"state": "on_wheels"}), Move("support", {"state": "lift_frame"}), Move("support"), Move("support"),
    Move("hand-over", {"to": BEN.id}), Move("step-note"), Move("step-hold"), Move("sheet-hold"), Move("done"),
]  # fmt: skip
RESTS_AFTER_MS = 75_000


class Day(RuleBasedStateMachine):
    """One made-up day. `changed`: scripts with a fault planted in them, by name."""

    changed: ClassVar[Mapping[str, str]] = {}
    counted: ClassVar[Counter[str]] = Counter()

    @initialize(tablets=st.integers(2, 3))
    def begins(self, tablets: int) -> None:
        self.shop = Shop()
        self.benches = [Bench(self.shop, number, self.changed) for number in range(1, tablets + 1)]
        for bench, who in zip(self.benches, (ADA, BEN, GUS), strict=False):
            self._signs_in(bench, who)
        self.rows: list[Any] = []
        self.ids: dict[str, Any] = {}
        self.replayed: dict[str, Sheet] = {}
        self.ever: dict[str, Sheet] = {}
        self.copies: list[tuple[set[str], bytes]] = []
        self.watch = GateWatch()
        self.answered = 0
        self.told: dict[tuple[str, int], bool] = {}
        self.has_failed_disk = False
        pass_time(self.shop, self.benches, 2_000)
        self.counted["days"] += 1

    # --- Work at a tablet -------------------------------------------------------------------------------------------

    @rule(which=WHICH, tab=WHICH, number=NUMBERS, odd=st.sampled_from([None, None, None, *ODD]))
    def works(self, which: int, tab: int, number: str, odd: Move | None) -> None:
        """Look, fill in, tap: what is next by the sheet that is seen there, or something else."""
        self._work(self._bench(which), number, tab, odd)

    @rule(which=WHICH, number=NUMBERS, times=st.integers(2, 6), ms=st.sampled_from([0, 0, 700]))
    def works_on(self, which: int, number: str, times: int, ms: int) -> None:
        """Several things one after the other, everything right."""
        for _ in range(times):
            self._work(self._bench(which), number)
            pass_time(self.shop, self.benches, ms)

    @rule(which=WHICH, number=NUMBERS, times=st.integers(1, 4), fates=st.lists(FATES, min_size=1, max_size=4))
    def works_while_the_network_fails(self, which: int, number: str, times: int, fates: list[str | Reply]) -> None:
        bench = self._bench(which)
        bench.network.plan.extend(fates)
        for _ in range(times):
            self._work(bench, number)
            pass_time(self.shop, self.benches, 400)

    @rule(which=WHICH, number=NUMBERS, times=st.integers(1, 6))
    def works_out_of_reach(self, which: int, number: str, times: int) -> None:
        bench = self._bench(which)
        bench.network.otherwise = "lost"
        for _ in range(times):
            self._work(bench, number)

    @rule(number=NUMBERS, times=st.integers(1, 3))
    def all_work(self, number: str, times: int) -> None:
        """Each at their own tablet, in turn, on the same sheet."""
        for _ in range(times):
            for bench in self.benches:
                self._work(bench, number)

    @rule(which=WHICH, tab=WHICH, number=NUMBERS)
    def looks(self, which: int, tab: int, number: str) -> None:
        """Fill a form in, and be called away."""
        self._looks(self._bench(which), tab, number, None)

    @rule(which=WHICH)
    def taps_what_was_filled_in(self, which: int) -> None:
        """Perhaps long after it was looked at; perhaps again."""
        bench = self._bench(which)
        if bench.in_hand is not None:
            self._taps(bench, bench.in_hand)

    @rule(which=WHICH, number=NUMBERS, change=st.sampled_from(["figure", "gate", "words", "tag"]))
    def something_changes_between_look_and_tap(self, which: int, number: str, change: str) -> None:
        """And the tablet has heard of it: what is written down is what was seen."""
        bench = self._bench(which)
        held = self._looks(bench, 0, number, None)
        if change == "tag":
            self.the_foreman_hangs_a_tag(number, "")
        else:
            self.the_foreman_changes_the_sheet(number, change)
        pass_time(self.shop, self.benches, 6_000)
        if held is not None and held.page in bench.fresh():
            self._taps(bench, held)

    @rule(which=WHICH, number=NUMBERS, times=st.integers(1, 3))
    def holds_it_anew_and_works_on(self, which: int, number: str, times: int) -> None:
        """The vehicle is let down on its stands again: whatever was answered about them is asked again."""
        bench = self._bench(which)
        self._work(bench, number, 0, Move("support"))
        for _ in range(times):
            self._work(bench, number)

    @rule(which=WHICH, number=NUMBERS)
    def looks_a_second_time(self, which: int, number: str) -> None:
        bench = self._bench(which)
        sheet = bench.knows(number)
        held = None if sheet is None else bench.looks(number, second_move(sheet), bench.page())
        if held is not None:
            self._taps(bench, held)

    @rule(which=WHICH, number=NUMBERS, tasks=st.integers(0, 60))
    def dies_while_writing(self, which: int, number: str, tasks: int) -> None:
        """The page is gone so many tasks after the tap: before the write, within it, before it is sent, while it is."""
        bench = self._bench(which)
        held = self._looks(bench, 0, number, None)
        if held is None:
            return
        bench.begins(held.page, "POST", f"/jobs/{held.number}/entries", {}, held.fields)
        left = iter(range(tasks))
        bench.world.go(until=lambda: next(left, None) is None)
        bench.bury()
        if held.page in bench.pages:
            bench.kills(held.page)

    @rule(which=WHICH, tab=WHICH)
    def closes_a_tab(self, which: int, tab: int) -> None:
        bench = self._bench(which)
        bench.kills(bench.page(tab))

    @rule(which=WHICH)
    def opens_a_second_tab(self, which: int) -> None:
        bench = self._bench(which)
        if len(bench.pages) < 3:
            bench.opens()

    @rule(which=WHICH, release=st.integers(2, 3), old_ones_stay=st.booleans())
    def a_new_bundle_comes(self, which: int, release: int, old_ones_stay: bool) -> None:
        """With the same pocket, or with one more store in it. What waits was written by the one before."""
        bench = self._bench(which)
        bench.release = max(bench.release, release)
        if not old_ones_stay:
            bench.kills()
        bench.opens()
        bench.world.go()

    @rule(which=WHICH, who=st.sampled_from([ADA, BEN, CLEO, GUS, FAY]))
    def another_signs_in(self, which: int, who: Someone) -> None:
        bench = self._bench(which)
        bench.asks(bench.page(), "GET", "/sign-out")
        bench.in_hand = None
        if bench.pages:
            self._signs_in(bench, who)

    @rule(which=WHICH, off_ms=st.sampled_from(HOURS))
    def its_clock_jumps(self, which: int, off_ms: int) -> None:
        self._bench(which).sets_clock(off_ms)

    @rule(which=WHICH, fault=st.sampled_from(["QuotaExceededError", "UnknownError"]), at_put=st.booleans())
    def its_disk_fails_once(self, which: int, fault: str, at_put: bool) -> None:
        world = self._bench(which).world
        (world.fail_puts if at_put else world.fail_commits)(fault)
        self.has_failed_disk = True

    @rule(which=WHICH)
    def is_copied(self, which: int) -> None:
        bench = self._bench(which)
        bench.kills()
        bench.backups.append((bench.tablet.id, bench.world.dump()))

    @rule(which=WHICH, older=st.integers(0, 3), back=st.booleans())
    def loses_its_pocket(self, which: int, older: int, back: bool) -> None:
        """A copy of before in its place; or all gone, and enrolled as a new one."""
        bench = self._bench(which)
        record = self._record(bench.tablet.id)
        before = set(bench.lost)
        for tablet, seq in bench.lost.values():
            # What the office does not know by now it will not hear from this tablet any more.
            self.told[tablet, seq] &= self._is_known(tablet, seq)
        bench.put_back(older) if back else bench.wiped()
        for key in set(bench.lost) - before:
            tablet, seq = bench.lost[key]
            self.told[tablet, seq] = seq <= record.said_seq

    # --- The network and the office's process -----------------------------------------------------------------------

    @rule(which=WHICH, otherwise=st.sampled_from(["swallowed", "fine", "fine", "fine"]))
    def its_network_changes(self, which: int, otherwise: str) -> None:
        self._bench(which).network.otherwise = otherwise

    @rule(which=WHICH)
    def what_was_held_arrives(self, which: int) -> None:
        self._bench(which).network.arrive()

    @rule(
        which=WHICH, number=NUMBERS, deaths=st.lists(st.sampled_from(["before", "after", ""]), min_size=1, max_size=3)
    )
    def the_office_is_killed(self, which: int, number: str, deaths: list[str]) -> None:
        """In the midst of one of the next requests: before it has committed, or after it and before it answers."""
        self.shop.dies_next = deaths
        self._work(self._bench(which), number)
        pass_time(self.shop, self.benches, 2_500)

    @rule()
    def the_office_stops_or_starts(self) -> None:
        self.shop.starts() if self.shop.is_gone else self.shop.stops()

    @rule()
    def the_office_is_copied(self) -> None:
        self._back()
        self.copies.append(({one.id for one in self.shop.all("tablets")}, self.shop.copy()))

    @rule(older=st.integers(0, 2))
    def the_office_is_set_back(self, older: int) -> None:
        """To a copy of before. What no tablet has any more is lost, and has to be said."""
        copies = [copy for tablets, copy in self.copies if {bench.tablet.id for bench in self.benches} <= tablets]
        if not copies:
            return
        before = self.ids
        self.shop.set_back(copies[older % len(copies)])
        self.shop.kept.clear()
        self.rows, self.ids, self.replayed, self.watch, self.answered = [], {}, {}, GateWatch(), 0
        self.the_ledger_is_whole()
        self.told = dict.fromkeys(self.told, False)
        for bench in self.benches:
            bench.forgot, bench.elsewhere = True, set(bench.saved())
            for key in bench.elsewhere - set(bench.rows()) - set(self.ids) - set(bench.lost):
                entry = before[key].heard.entry
                bench.lost[key] = (entry.tablet, entry.seq)
                self.told[entry.tablet, entry.seq] = entry.tablet == bench.tablet.id

    @rule(ms=st.sampled_from([300, 3_000, 12_000, 25_000]))
    def time_passes(self, ms: int) -> None:
        pass_time(self.shop, self.benches, ms)

    @rule(ms=st.sampled_from([MINUTE, 16 * MINUTE, 61 * MINUTE, 25 * 60 * MINUTE]))
    def all_go_home(self, ms: int) -> None:
        for bench in self.benches:
            bench.world.go()
        sleep(self.shop, self.benches, ms)

    # --- The office -------------------------------------------------------------------------------------------------

    @rule(who=WORKERS, number=NUMBERS, odd=st.sampled_from([None, None, *ODD]), again=st.booleans())
    def works_at_the_office(self, who: Someone, number: str, odd: Move | None, again: bool) -> None:
        """The same by the office's own page; its form is sent again where the answer did not come, or just so."""
        self._back()
        if not self._is_here(who):
            return
        sheet = self.shop.sheet(JOBS[number])
        self._office_form(who, number, odd or next_move(sheet, who.id, self.shop.office.now_ms), 2 if again else 1)

    @rule(number=NUMBERS, change=st.sampled_from(["figure", "line", "gate", "words", "wrench", "fewer"]))
    def the_foreman_changes_the_sheet(self, number: str, change: str) -> None:
        self._back()
        packet = self.shop.sheet(JOBS[number]).packet
        assert packet is not None
        if self.shop.job(JOBS[number]).state is JobState.OPEN:
            self.shop.pins(CHANGES[change](packet))

    @rule(number=NUMBERS, step=st.sampled_from(["", "", "fit", "stud"]))
    def the_foreman_hangs_a_tag(self, number: str, step: str) -> None:
        self._back()
        self._office_form(FAY, number, Move("step-hold" if step else "sheet-hold", {}, {"step": step}))

    @rule(number=NUMBERS)
    def the_foreman_takes_a_tag_off(self, number: str) -> None:
        self._back()
        for key, hold in self.shop.sheet(JOBS[number]).holds.items():
            if hold.lifted is None:
                self._refusable(lambda key=key: lift_hold(self.shop.office, FAY.id, JOBS[number], key, "It came"))

    @rule(number=NUMBERS)
    def the_foreman_settles(self, number: str) -> None:
        self._back()
        for key, one in self.shop.sheet(JOBS[number]).asides.items():
            if one.settled is None:
                self._refusable(
                    lambda key=key: settle_aside(self.shop.office, FAY.id, JOBS[number], key, WORDS["outcome"], "Known")
                )

    @rule(number=st.sampled_from(["1002"]))
    def a_job_is_cancelled(self, number: str) -> None:
        self._back()
        if self.shop.job(JOBS[number]).state is JobState.OPEN:
            self._refusable(lambda: cancel_job(self.shop.office, FAY.id, number, "Fetched", "On its wheels"))

    @rule()
    def a_job_is_finished_and_handed_back(self) -> None:
        """All of it at the office's own pages, as far as it goes; what tablets still bring then comes too late."""
        self._back()
        number, job = "1002", JOBS["1002"]
        self.the_foreman_takes_a_tag_off(number)
        for _ in range(25):
            sheet, now_ms = self.shop.sheet(job), self.shop.office.now_ms
            who, move = GUS, next_move(sheet, GUS.id, now_ms)
            if move.form == "sheet-note":
                who, move = ADA, second_move(sheet)
            if move.form == "sheet-note" or not self._office_form(who, number, move):
                break
        self.the_foreman_settles(number)
        self._refusable(lambda: hand_back(self.shop.office, FAY.id, number, "Keys at the desk"))
        if self.shop.job(job).state is JobState.HANDED_BACK:
            self.counted["handed back"] += 1

    @rule(who=st.sampled_from([ADA, GUS]))
    def somebody_reads_another_language(self, who: Someone) -> None:
        self._back()
        with self.shop.store.writing() as unit:
            person = unit.people.get(who.id)
            assert person is not None
            unit.people.save(replace(person, language="" if person.language else "es"))
            unit.commit()

    @rule(who=st.sampled_from([BEN, CLEO]))
    def somebody_leaves_or_comes_back(self, who: Someone) -> None:
        self._back()
        with self.shop.store.writing() as unit:
            person = unit.people.get(who.id)
            assert person is not None
            unit.people.save(replace(person, active=not person.active))
            unit.commit()

    # --- What always holds ------------------------------------------------------------------------------------------

    @invariant()
    def holds(self) -> None:
        self.counted["steps"] += 1
        self._back()
        self.the_ledger_is_whole()
        self.what_was_answered_as_kept_is_kept()
        self.numbers_have_no_gaps()
        self.nothing_saved_is_lost()
        self.what_is_shown_is_what_the_office_will_make_of_it()

    def the_ledger_is_whole(self) -> None:
        for row in self.shop.ledger(len(self.rows)):
            entry = row.heard.entry
            assert row.heard.order == len(self.rows) + 1
            assert entry.id not in self.ids, f"{entry.id} is in the ledger twice"
            self.rows.append(row)
            self.ids[entry.id] = row
            before = self.replayed.get(entry.job) or Sheet(entry.job)
            ruling = Ruling(row.accepted, row.reason, row.details)
            self.watch.sees(row)
            after = self.shop.office.rules.evolve(before, row.heard, ruling)
            self.replayed[entry.job] = self.ever[after.hash] = after
        for job, sheet in self.replayed.items():
            stored = self.shop.sheet(job)
            assert stored.hash == sheet.hash, f"the stored sheet of {job} is not what its entries lead to"
            for gate in stored.gates.values():
                assert all(self.ids[said.entry].accepted for said in gate.answers.values())

    def what_was_answered_as_kept_is_kept(self) -> None:
        for one in self.shop.kept[self.answered :]:
            row = self.ids[one["id"]]
            assert (row.heard.order, row.accepted, row.reason) == (one["order"], one["accepted"], one["reason"])
        self.answered = len(self.shop.kept)

    def numbers_have_no_gaps(self) -> None:
        numbers: dict[str, list[int]] = {}
        for row in self.rows:
            numbers.setdefault(row.heard.entry.tablet, []).append(row.heard.entry.seq)
        alarms = self.shop.all("tablet_alarms")
        for tablet, found in numbers.items():
            assert found == sorted(set(found)), f"{tablet} is out of order: {found}"
            gaps = (
                set(range(1, found[-1] + 1))
                - set(found)
                - {number for one, number in self.shop.used_up if one == tablet}
            )
            covered = {n for one in alarms if one.tablet == tablet for n in range(one.first_seq, one.last_seq + 1)}
            assert gaps <= covered, f"{tablet} has gaps nobody was told of: {sorted(gaps - covered)}"
        for bench in self.benches:
            if not bench.forgot:
                assert not [one for one in alarms if one.tablet in bench.was], "an alarm, and nothing is lost"

    def nothing_saved_is_lost(self) -> None:
        for bench in self.benches:
            here = bench.rows()
            for key, (_, text) in bench.saved().items():
                row = self.ids.get(key)
                assert row is not None or key in here or key in bench.lost, f"{key} was saved and is nowhere"
                if row is not None and "sent_as" not in (raw := json.loads(row.raw)):
                    assert raw == json.loads(text), f"{key} is not what was written down"

    def what_is_shown_is_what_the_office_will_make_of_it(self) -> None:
        """The office's sheet up to some entry, then each entry saved here since; none left before that sheet came."""
        for bench in self.benches:
            if not (pages := bench.fresh()):
                continue
            here = bench.rows()
            for number, job in JOBS.items():
                found = bench.does(pages[-1], KNOWING, number)
                if found is None:
                    continue
                base, order = known_sheet(found, "base").hash, found["through"]
                assert base in self.ever, f"{number} is no sheet the office ever had"
                expected = self.ever[base]
                for one in found["later"]:
                    order, by = order + 1, one["heard"]
                    entry = e.entry_from(json.loads(one["text"]))
                    heard = e.Heard(entry, order, by["at_ms"], by["name"], tuple(by["roles"]))
                    ruling = self._ruling(expected, heard, one["office"])
                    expected = self.shop.office.rules.evolve(expected, heard, ruling)
                assert known_sheet(found).text == expected.text, f"{number} is shown as it will not be"
                gone = {key for key in bench.saved() if key not in here} - bench.elsewhere - set(bench.lost)
                left = [row for key in gone if (row := self.ids[key]).heard.entry.job == job]
                assert all(row.heard.order <= found["through"] for row in left), "it left too early"

    def _ruling(self, sheet: Sheet, heard: e.Heard, office: Any) -> Ruling:
        if office is None or "kept" in office:
            return self.shop.office.rules.decide(sheet, heard)
        return Ruling(office["accepted"], office["reason"], office["details"])

    def teardown(self) -> None:
        if not hasattr(self, "shop"):
            return
        try:
            self.all_is_quiet()
            self.counted["behind gates"] += self.watch.seen
            self.counted["lost and known"] += sum(len(bench.lost) for bench in self.benches)
            for row in self.rows:
                from_tablet = row.heard.entry.tablet != OFFICE_TABLET
                self.counted["from tablets" if from_tablet else "from the office"] += 1
                self.counted[row.reason or "accepted"] += 1
        finally:
            for bench in self.benches:
                bench.closes()
            self.shop.closes()

    @rule()
    def all_is_quiet(self) -> None:
        """Everything works again and nobody does anything: in the end all agree."""
        self.shop.dies_next = []
        self._back()
        for bench in self.benches:
            bench.network.plan.clear()
            bench.network.otherwise = "fine"
            bench.network.arrive()
            bench.page()
        for _ in range(0, RESTS_AFTER_MS, 5_000):
            pass_time(self.shop, self.benches, 5_000)
            if not self._unlike():
                break
        assert not (unlike := self._unlike()), unlike
        self.holds()
        self.what_is_lost_is_known()
        assert verify(self.shop.office).breaches == ()
        for number, job in JOBS.items():
            letters = [one for one in self.shop.all("outbox") if one.job == job]
            is_back = self.shop.job(job).state is JobState.HANDED_BACK
            assert len(letters) == int(is_back), f"{number} has {len(letters)} letters"
        for bench in self.benches:
            # A page whose pocket was renewed by a later bundle says so.
            errors = [one for one in bench.world.errors if one != "Error: closed"]
            assert self.has_failed_disk or not errors, errors

    def what_is_lost_is_known(self) -> None:
        for bench in self.benches:
            for key, (tablet, seq) in bench.lost.items():
                is_known = key in self.ids or not self.told[tablet, seq] or self._is_known(tablet, seq)
                assert is_known, f"{key}, number {seq} of {tablet}, is lost and nobody knows"

    def _is_known(self, tablet: str, seq: int) -> bool:
        """Whether the office waits for a number, or says it is lost. That another entry has it now is no answer."""
        record = self._record(tablet)
        alarms = [one for one in self.shop.all("tablet_alarms") if one.tablet == tablet]
        return record.last_seq < seq <= record.said_seq or any(one.first_seq <= seq <= one.last_seq for one in alarms)

    # --- Helpers ----------------------------------------------------------------------------------------------------

    def _unlike(self) -> list[str]:
        """What is not yet as it has to be in the end."""
        found = []
        for bench in self.benches:
            found += [f"{bench.number} keeps {key}" for key in bench.rows()]
            record = self._record(bench.tablet.id)
            if record.owes or record.waiting or record.owes_since:
                found.append(f"{bench.number} owes")
            for number, job in JOBS.items():
                known = bench.knows(number)
                if known is None and self.shop.job(job).state is JobState.OPEN:
                    found.append(f"{bench.number} has no {number}")
                elif known is not None and known.text != self.shop.sheet(job).text:
                    found.append(f"{bench.number} has another {number}")
        return found

    def _bench(self, which: int) -> Bench:
        return self.benches[which % len(self.benches)]

    def _record(self, tablet: str) -> Any:
        return next(one for one in self.shop.all("tablets") if one.id == tablet)

    def _is_here(self, who: Someone) -> bool:
        return next(one.active for one in self.shop.all("people") if one.id == who.id)

    def _back(self) -> None:
        """What is done at the office, or looked up there, is done when it runs."""
        if self.shop.is_gone:
            self.shop.starts()

    def _signs_in(self, bench: Bench, who: Someone) -> None:
        shown = bench.asks(bench.page(), "POST", "/sign-in", {}, {"person": who.id, "pin": PIN, "after": "/work"})
        assert shown is None or shown.status in (303, 422)

    def _looks(self, bench: Bench, tab: int, number: str, odd: Move | None) -> Any:
        page = bench.page(tab)
        me = bench.me(page)
        if not me:
            self._signs_in(bench, ADA)
            return None
        sheet = bench.knows(number, page)
        if sheet is None:
            return None
        now = int(bench.world.value("browser.now"))
        return bench.looks(number, odd or next_move(sheet, me, now), page)

    def _work(self, bench: Bench, number: str, tab: int = 0, odd: Move | None = None) -> None:
        held = self._looks(bench, tab, number, odd)
        if held is not None:
            self._taps(bench, held)

    def _taps(self, bench: Bench, held: Any) -> None:
        before = bench.saved()
        shown = bench.taps(held)
        self.counted["taps"] += 1
        if shown is not None and shown.status == 200:
            # Said to be recorded or set aside: then it is written down.
            ids = {value for name, value in held.fields.items() if name.split(".")[0] == "entry"}
            now = bench.saved()
            assert ids & set(now), "it was said to be recorded and is not written down"
            assert not ids <= set(before) or now == before, "one form became two entries"
            for _, text in (now[key] for key in ids if key in now and key not in before):
                assert json.loads(text)["basis"]["packet"] == held.fields["basis_packet"], "it says another was seen"
        elif shown is not None and shown.status == 422:
            assert bench.saved() == before

    def _office_form(self, who: Someone, number: str, move: Move, times: int = 1) -> bool:
        """Send a form of the sheet's page, or its note where it is not there; whether it was there."""
        visitor = self.shop.visitor(who)
        asked = "&".join(f"{key}={value}" for key, value in move.asked.items())
        fields = fill(forms_in(visitor.get(f"/jobs/{number}/sheet?{asked}").text), move)
        while fields is not None and times:
            try:
                with self.shop.mortal():
                    answer = visitor.client.post(f"/jobs/{number}/entries", data=fields, follow_redirects=False)
                assert answer.status_code in (200, 303, 422), answer.text
                times -= 1
            except Killed:
                self.counted["killed at a form"] += 1
        return fields is not None and fields["sheet_form"] == move.form

    def _refusable(self, work: Callable[[], object]) -> None:
        try:
            work()
        except (Refused, NotFound):
            self.counted["refused"] += 1


# --- What a foreman changes ------------------------------------------------------------------------------------------


def _figure(packet: Packet) -> Packet:
    (nut,) = packet.step_by_id["stud"].fasteners
    assert nut.figure is not None
    higher = a_figure("120 N·m", "114 N·m", "126 N·m", id="fig-2")
    return with_step(packet, "stud", fasteners=(replace(nut, figure=a_figure() if nut.figure == higher else higher),))


def _line(packet: Packet) -> Packet:
    number = len(packet.lines) + 1
    line = replace(packet.lines[0], id=f"l{number}", title=f"Line {number}")
    step = a_step(f"more-{packet.edition}", line=line.id, fasteners=(a_fastener(f"bolt-{number}"),))
    return replace(packet, edition=packet.edition + 1, lines=(*packet.lines, line), steps=(*packet.steps, step))


def _gate(packet: Packet) -> Packet:
    stands = packet.gate_by_id["stands:front"]
    changed = a_gate() if len(stands.checks) == 5 else a_gate(checks=(*stands.checks, CLEAR))
    gates = tuple(changed if one.id == stands.id else one for one in packet.gates)
    return replace(packet, edition=packet.edition + 1, gates=gates)


def _words(packet: Packet) -> Packet:
    return with_step(packet, "fit", do=f"Do it as in edition {packet.edition}.")


def _wrench(packet: Packet) -> Packet:
    wrench = packet.wrenches[0]
    return replace(
        packet, edition=packet.edition + 1, wrenches=(replace(wrench, fault="" if wrench.fault else "It fell"),)
    )


def _fewer(packet: Packet) -> Packet:
    """The line added last is taken off; with none, a step's words are changed."""
    last = packet.steps[-1]
    if not last.id.startswith("more-"):
        return _words(packet)
    return replace(packet, edition=packet.edition + 1, steps=packet.steps[:-1], lines=packet.lines[:-1])


CHANGES: dict[str, Callable[[Packet], Packet]] = {
    "figure": _figure, "line": _line, "gate": _gate, "words": _words, "wrench": _wrench, "fewer": _fewer,
}  # fmt: skip


def test_whatever_happens_all_agree_in_the_end_and_nothing_is_lost() -> None:
    """The same days each time, so that a failure is of what was changed; other ones when more are asked for."""
    more = int(os.environ.get("MADE_UP_DAYS", "0"))
    Day.counted.clear()
    run_state_machine_as_test(
        Day,
        settings=settings(
            max_examples=more or 18, stateful_step_count=60 if more else 30, derandomize=not more, deadline=None,
            print_blob=True, suppress_health_check=list(HealthCheck),
        ),
    )  # fmt: skip

    print(dict(Day.counted))
    # Days on which nothing happens would agree for ever.
    assert Day.counted["taps"] > 60
    assert Day.counted["from tablets"] > 60
    assert Day.counted["behind gates"] > 0
    assert Day.counted["accepted"] < Day.counted["from tablets"] + Day.counted["from the office"]
