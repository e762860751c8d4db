"""The main job played to the end through a real server, as people would: by its pages, its forms and nothing else.

Four jobs and a comeback: a ball joint on an axle whose coil stands on the lower arm, with everything that goes wrong on
the way and is refused; both struts of another; one that is priced, with a line the customer does not want and a price
that went up; a re-check after a wrench was found out of true; and a vehicle that is here again with what it was here
for. Then the customers' letters are read. Exit code 1 if anything was not as it should be.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from app import commands
from app.bootstrap import wire
from app.settings import ROOT, Settings
from demo import larkfield
from demo.browser import Browser, Page, PageUnlike
from demo.front_office import PINS, FrontOffice, Work
from demo.hands import Card, Hand, SetAside, said_against
from demo.letters import Letter, pages_of, wait_for_letters
from demo.priced import DEARER, FOUND, KNOCKS, KNOCKS_NOTE, OFFERED, SAYS, SIGNED, PricedJob, by_phone
from demo.readings import Found
from demo.recalled import Recall
from demo.seed import shop_things
from demo.serving import House, ServerGone, served
from demo.story import Story

BALL_JOINT_NOTE = "Please come by for the wheels; we look at the new joint again then."
STRUTS_NOTE = "Both sides were done together."
RECHECK_NOTE = "One of our wrenches had gone out of true; we have tightened what it had tightened once more."
OUT = ROOT / "demo" / "out"
BALL_JOINT = Work(
    "LK 14 TAL",
    "Clunk from the front left over speed humps, wheel shakes when braking",
    (("front.ball_joint.lower", "left"),),
    may_mail="yes",
)
STRUTS = Work("QN 19 STR", "Bounces on and on after bumps, oil on the left front strut", (("front.strut", "both"),))
AGAIN = Work(STRUTS.plate, "Bounces on after bumps again, now on the right", (("front.inspection", "yes"),))


def walk(out: Path = OUT) -> int:
    """Play it and say what came of it: 0 if everything was as it should be."""
    folder = out / f"{datetime.now(UTC):%Y-%m-%d-%H%M%S}"
    folder.mkdir(parents=True)
    house, story = House(folder, larkfield.SHOP.email), Story()
    story.chapter(f"{larkfield.SHOP.name}, an invented workshop")
    open_shop(house)
    try:
        with served(house) as base:
            story.tell(f"The server answers at {base}")
            jobs = Walk(story, base).run()
            letters = wait_for_letters(house.post, len(jobs))
        read_letters(story, letters)
    except (PageUnlike, SetAside, ServerGone) as trouble:
        story.expect(False, f"The walk came to a stop: {trouble}")
    verify(story, house)
    return _end(story, house)


def open_shop(house: House) -> None:
    """A fresh database with the workshop's people, bays, tools, figures, customers and vehicles; no job yet."""
    with _settings_of(house):
        commands.migrate(Settings())
        shop_things(wire(Settings()).office, datetime.now(UTC))


@contextmanager
def _settings_of(house: House) -> Iterator[None]:
    before = {name: os.environ.get(name) for name in house.settings}
    os.environ.update(house.settings)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


class Walk:
    """The people of the walk, each at a browser of their own."""

    def __init__(self, story: Story, base: str) -> None:
        self.story, self.base = story, base
        self.joss = self._hand("Joss Achterberg")
        self.bram = self._hand("Bram Nwosu")
        self.ines = self._hand("Ines Calloway")
        self.bram.second = self.ines
        self.ines.second = self.joss
        self.ines.wrenches = ("W27",)
        self.office = FrontOffice(story, base)

    def _hand(self, name: str) -> Hand:
        return Hand(name, Browser(self.base), told=self.story.tell)

    def run(self) -> list[str]:
        self.story.chapter("Signing in")
        self.sign_in()
        jobs = [self.ball_joint(), self.struts(), self.priced(), self.recheck()]
        self.comeback(jobs[1])
        return jobs

    def sign_in(self) -> None:
        said = said_against(self.bram.sign_in("0000"))
        self.story.refused("Bram Nwosu types a wrong PIN", said, "PIN")
        self.office.sign_in()
        for one in (self.joss, self.bram, self.ines):
            page = one.sign_in(PINS[one.name])
            self.story.expect(page.heading == "My work", f"{one.name} signs in and sees: {page.heading}")

    # --- The ball joint -------------------------------------------------------------------------------------------

    def ball_joint(self) -> str:
        self.story.chapter("A ball joint, coil on the lower arm")
        job = self.office.take_in(BALL_JOINT)
        self.office.place(job, "Bay 1", "Bram Nwosu")
        bram = self._take_up(self.bram, job, CLUNK_FOUND)
        bram.work(until=".raise")
        self.gate_is_shut(bram)
        self.gate_says_no(bram)
        bram.work(until=".fit_riveted")
        self.torque_outside(bram)
        self.wrench_overdue(bram)
        bram.do(bram.card_now().step)
        ines = self.hand_over(bram, job)
        ines.extensions = {"l1.stud_castle": "100 mm"}
        ines.work()
        self.finished(ines, "Set aside")
        self.release(
            job,
            BALL_JOINT_NOTE,
            settle="Bram pressed his old page after the hand-over; Ines did the step.",
        )
        return job

    def gate_is_shut(self, bram: Hand) -> None:
        card = bram.card_now()
        bram.hold(card)
        card = bram.card_now()
        barrier = card.form("gate_answered")
        self.story.expect(barrier is not None and card.form("step_done") is None,
                          f"“{card.name}” stands behind its gate: nothing on the page closes it")  # fmt: skip
        said = self.close_without_asking(bram, card)
        self.story.refused("Bram sends the closing of the step all the same, without an answer", said, "still shut")

    def close_without_asking(self, hand: Hand, card: Card, **parts: str) -> str:
        """Send what no page offers here: the closing of the step, made from the form for a note."""
        note = card.form("note_added")
        if note is None:
            raise PageUnlike(f"no form for a note at {card.name}")
        return hand.try_to_send(card.page, note, {}, kind="step_done", basis_step="1", **parts)

    def gate_says_no(self, bram: Hand) -> None:
        card = bram.card_now()
        gate = card.form("gate_answered")
        if gate is None:
            raise PageUnlike(f"no gate at {card.name}")
        bram.send(card.page, gate, {**bram.answers(gate), "answer.jack_down": "part"})
        after = bram.card_now()
        do = after.element.first(cls="question__do")
        self.story.refused("Bram answers that the jack still bears", do.text if do else "", "Lift it off again")
        said = self.close_without_asking(bram, after)
        self.story.refused("With that answer the step still cannot be closed", said, "still shut")
        bram.do(after.step)

    def torque_outside(self, bram: Hand) -> None:
        """50 N·m is wanted; 58 was read. It is refused, and stays on record beside the joint."""
        bram.begin(bram.card_now().step)
        card = bram.card_now()
        page = self.with_wrench(bram, card.step, "W20")
        form = Card(page, page.need("in-hand")).form("signed_off")
        if form is None:
            raise PageUnlike(f"no form to sign at {card.name}")
        said = bram.try_to_send(page, form, {"reading.0": "58 N·m", "new_part": "yes"})
        self.story.refused("Bram reads 58 N·m where 50 N·m is wanted", said, "not inside the window")
        kept = bram.card_now().element.first(cls="fastener__outside")
        self.story.refused("The reading is on the card", kept.text if kept else "", "58 N·m")
        said = self.close_without_asking(bram, bram.card_now(), **{"part.bolts": "yes"})
        self.story.refused("The step stays open", said, "Still to sign off")

    def with_wrench(self, hand: Hand, step: str, tag: str) -> Page:
        return hand.browser.open(f"/jobs/{hand.number}/sheet?step={step}&at=flange_bolts&wrench={tag}")

    def wrench_overdue(self, bram: Hand) -> None:
        card = bram.card_now()
        page = self.with_wrench(bram, card.step, "W08")
        stop = page.need("fastener-flange_bolts").first(cls="fastener__stop")
        self.story.refused("Bram takes wrench W08: the page gives no field", stop.text if stop else "", "was due on")
        page = self.with_wrench(bram, card.step, "W20")
        form = Card(page, page.need("in-hand")).form("signed_off")
        if form is None:
            raise PageUnlike(f"no form to sign at {card.name}")
        said = bram.try_to_send(page, form, {"reading.0": "50 N·m", "new_part": "yes"}, wrench="W08")
        self.story.refused("He enters a reading of it all the same", said, "Take one that is in date")

    def hand_over(self, bram: Hand, job: str) -> Hand:
        """Ines goes on. The gates are asked again, and what Bram sends from his old page is set aside."""
        old = bram.card_now()
        closing = old.form("step_done")
        form = old.page.form_to(f"/jobs/{job}/entries", kind="handed_over")
        who = next(one for one in form.element.all("label", "choice") if "Ines Calloway" in one.text)
        to = who.first("input")
        bram.send(old.page, form, {"to": to.attrs["value"] if to else "", "note": "Flange is tight, stud comes next"})
        self.story.tell("Bram Nwosu hands the sheet over to Ines Calloway")
        ines = self._take_up(self.ines, job, {})
        ines.held = bram.held
        card = ines.card_now()
        again = card.element.first(cls="barrier__again")
        self.story.refused("Ines has the gates asked again", again.text if again else "", "asked again")
        ines.do(card.step)
        if closing is None:
            raise PageUnlike(f"nothing closes {old.name} on Bram's page")
        said = bram.try_to_send(old.page, closing, {})
        self.story.expect(bool(said), f"Bram presses his old page\n      The house says: {said}")
        return ines

    # --- The struts -----------------------------------------------------------------------------------------------

    def struts(self) -> str:
        self.story.chapter("Both front struts")
        job = self.office.take_in(STRUTS)
        self.office.place(job, "Bay 2", "Ines Calloway")
        ines = self._take_up(self.ines, job, STRUTS_FOUND)
        ines.held = "on_wheels"
        ines.extensions = {"l1.lower_bolts_in": "150 mm"}
        ines.work(until="l1.compress")
        self.spring_is_named(ines)
        ines.work(until="l1.centre_nut_off")
        self.centre_nut_under_load(ines)
        ines.work()
        self.finished(ines, "")
        self.release(job, STRUTS_NOTE)
        return job

    def spring_is_named(self, ines: Hand) -> None:
        """The force is shown before anyone answers, and a compressor that is too weak keeps the gate shut."""
        card = ines.card_now()
        gate = card.form("gate_answered")
        shown = card.element.first(cls="reckoned")
        self.story.refused("Before the coil is touched the sheet shows", shown.text if shown else "", "N")
        if gate is None:
            raise PageUnlike(f"no gate at {card.name}")
        ines.send(card.page, gate, {**ines.answers(gate), "answer.compressor": "4 kN"})
        do = ines.card_now().element.first(cls="question__do")
        self.story.refused("Ines takes a compressor rated 4 kN", do.text if do else "", "too weak")

    def centre_nut_under_load(self, ines: Hand) -> None:
        card = ines.card_now()
        gate = card.form("gate_answered")
        if gate is None:
            raise PageUnlike(f"no gate at {card.name}")
        ines.send(card.page, gate, {**ines.answers(gate), "answer.turns": "tight"})
        do = ines.card_now().element.first(cls="question__do")
        self.story.refused("The coil still sits tight at one end", do.text if do else "", "Do not touch the nut")

    # --- A priced job ---------------------------------------------------------------------------------------------

    def priced(self) -> str:
        """Prices are kept only now: the jobs before were opened without, and went on so."""
        self.story.chapter("A priced job: a line refused, and a price that went up")
        self.joss.second = self.bram
        desk = PricedJob(self.story, self.office, self.joss)
        desk.keep_prices()
        job = self.office.take_in(KNOCKS)
        self.office.place(job, "Bay 4, flat", "Joss Achterberg")
        desk.offer(job, OFFERED, "Maud makes the estimate of three lines")
        joss = self._take_up(self.joss, job, FOUND)
        joss.held = "on_wheels"
        desk.is_shut("l2.complaint", "Before the customer has said anything the sheet says")
        said = {"l1": "no", "l2": "yes", "l3": "yes"}
        desk.agree(job, said, by_phone(), "Nell Hale says yes by telephone, and no to the ball joint")
        gone = joss.sheet().root.by_id("step-l1.hold_vehicle") is None and "Ball joint" not in joss.sheet().root.text
        self.story.expect(gone, "The refused line is gone from the sheet")
        joss.work(until="l3.hold_level")
        desk.offer(job, DEARER, "Maud offers the links again: they take longer than was thought")
        desk.is_shut(joss.card_now().step, "The dearer work needs a second yes")
        desk.agree(job, {"l3": "yes"}, SIGNED, "Nell Hale signs for the new price")
        joss.work()
        self.finished(joss, "")
        self.release(job, KNOCKS_NOTE)
        return job

    # --- A re-check -----------------------------------------------------------------------------------------------

    def recheck(self) -> str:
        """The wrench that tightened the links was out of true: the vehicle comes back, at the workshop's cost."""
        self.story.chapter("A wrench out of true, and a re-check")
        recall = Recall(self.story, self.office)
        job = recall.open_rechecks(recall.out_of_true("W15"), KNOCKS.plate)
        PricedJob(self.story, self.office, self.bram).free(job)
        self.office.place(job, "Bay 1", "Bram Nwosu")
        bram = self._take_up(self.bram, job, {})
        bram.held = "on_wheels"
        bram.work()
        self.finished(bram, "")
        self.release(job, RECHECK_NOTE)
        return job

    # --- A comeback -----------------------------------------------------------------------------------------------

    def comeback(self, earlier: str) -> None:
        """The same complaint again: the new job opens with the earlier one beside it, and the Desk leads there."""
        self.story.chapter("The same complaint again")
        job = self.office.take_in_again(AGAIN, earlier)
        desk = self.office.desk.browser.open("/desk")
        row = next((one for one in desk.root.all("a") if one.attrs.get("href") == f"/jobs/{job}"), None)
        self.story.refused("On the Desk it stands as", row.text if row else "", f"Comeback of job {earlier}")
        beside = self.office.desk.browser.open(f"/jobs/{job}").root.first(cls="comeback")
        self.story.refused("Beside it stands the earlier job", beside.text if beside else "", STRUTS.complaint)

    # --- In common ------------------------------------------------------------------------------------------------

    def _take_up(self, hand: Hand, job: str, found: Mapping[str, Found]) -> Hand:
        page = hand.browser.open("/work")
        listed = any(one.attrs.get("href", "").startswith(f"/jobs/{job}/sheet") for one in page.root.all("a"))
        self.story.expect(listed, f"{hand.name} finds job {job} under “{page.heading}”")
        hand.number, hand.found = job, found
        return hand

    def finished(self, hand: Hand, waits: str) -> None:
        said = hand.sheet().need("finished").text
        words = waits or "can hand the job back"
        self.story.refused(f"{hand.name} has no step left", said, words)

    def release(self, job: str, note: str, settle: str = "") -> None:
        """The foreman hands it back; where something was set aside, only after settling it."""
        if settle:
            self.story.refused("Ottilie wants to hand it back; still open is", self.office.still_open(job), "set aside")
            self.office.settle(job, settle)
        self.office.release(job, note)


CLUNK_FOUND = {
    "opening.alignment_before.front": Found(
        "outside", "watch", "Left front leaned in and toed out; set after the work"
    ),
}
STRUTS_FOUND = {
    "l1.judge_top_bearing": Found("renewed", "replace", "Rough when turned by hand, renewed with the strut"),
    "l2.judge_stop": Found("renewed", "replace", "Bump stop crumbles, renewed"),
    "l1.judge_coil": Found("sound", "watch", "Coating gone at the lowest turn, no crack seen"),
}


# --- What is left behind ------------------------------------------------------------------------------------------

# Each letter by the address it goes to: what it has to say, and what it must not.
WANTED: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("halvor.bright@post.example", (
        "Halvor Bright", BALL_JOINT.plate, BALL_JOINT.complaint, BALL_JOINT_NOTE, "84210 km",
        "Ball joint, lower", "50 N·m",
        "Read again", "110 N·m", "an extension of 100 mm", "−1.35°", "−0.85°", "643 mm", "656 mm", "80 km",
        "Did the work: Bram Nwosu, Ines Calloway", "Joss Achterberg", "Ottilie Brand", "WATCH",
    )),
    ("soren+car@post.example", (
        "Søren Ødegård-Nuñez", STRUTS.plate, STRUTS.complaint, STRUTS_NOTE, "Strut", "150 N·m",
        "60 N·m, then 90°", "an extension of 150 mm", "REPLACE",
        "Rough when turned by hand", "WATCH", "Coating gone at the lowest turn", "80 km", "Ines Calloway",
        "Joss Achterberg", "Ottilie Brand",
    )),
    ("office@priorylane.example", (
        "Priory Lane Nursery", KNOCKS.plate, KNOCKS.complaint, KNOCKS_NOTE, "Not charged, you said no: Ball joint",
        *SAYS,
    )),
    ("office@priorylane.example", ("Priory Lane Nursery", KNOCKS.plate, RECHECK_NOTE, "60 N·m", "Bram Nwosu")),
)  # fmt: skip
NEVER = ("58 N·m", "W08", "NOT CLOSED", "is safe")


def read_letters(story: Story, letters: list[Letter]) -> None:
    story.chapter("The customers' letters")
    for address, wanted in WANTED:
        theirs = [one for one in letters if address in one.to]
        # Who got two letters is owed both: each is the one that says most of what it has to.
        letter = max(theirs, key=lambda one: sum(one.says(words) for words in wanted), default=None)
        story.expect(letter is not None, f"A letter to {address}")
        if letter is None:
            continue
        story.tell(f"{letter.subject}: {letter.path}")
        missing = [words for words in wanted if not letter.says(words)]
        story.expect(not missing, f"It says what it must{f'; missing: {missing}' if missing else ''}")
        wrong = [words for words in NEVER if letter.says(words) or words in letter.html]
        story.expect(not wrong, f"It says nothing of what was refused{f'; but: {wrong}' if wrong else ''}")
        read_pdf(story, letter)


def read_pdf(story: Story, letter: Letter) -> None:
    """The PDF lies beside the letter, and opens: each page of it can be drawn."""
    if not letter.pdf:
        story.expect(False, f"The letter {letter.path} brings no PDF")
        return
    beside = letter.path.with_suffix(".pdf")
    beside.write_bytes(letter.pdf)
    try:
        pages = pages_of(letter.pdf)
    except ValueError as trouble:
        story.expect(False, f"The PDF {beside} does not open: {trouble}")
        return
    for number, picture in enumerate(pages, 1):
        letter.path.with_name(f"{letter.path.stem}-{number}.png").write_bytes(picture)
    story.expect(bool(pages), f"The same on paper, {len(pages)} pages, each opened and drawn: {beside}")
    shown = letter.pictures
    if letter.says("BEFORE AND AFTER"):
        story.expect(bool(shown), f"The letter itself shows {len(shown)} drawings: {', '.join(shown)}")


def verify(story: Story, house: House) -> None:
    story.chapter("The ledger")
    done = house.run("verify")
    said = (done.stdout + done.stderr).strip()
    story.expect(done.returncode == 0, f"verify: {said}")


def _end(story: Story, house: House) -> int:
    story.chapter("In the end")
    story.tell(f"Letters, database and the server's log are in {house.folder}")
    if story.wrong:
        story.tell(f"{len(story.wrong)} things were not as they should be:")
        for one in story.wrong:
            story.tell(f"- {one}")
        return 1
    story.tell("Everything was as it should be.")
    return 0
