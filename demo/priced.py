"""A priced job: offered, agreed but for one line, offered again at a higher price, agreed again, done, handed back."""

from __future__ import annotations

from collections.abc import Mapping

from demo.browser import Page
from demo.front_office import FrontOffice, Work, in_hours
from demo.hands import Hand, said_against
from demo.pricing import FALLS_ON, JOINT, PRICES, SIGNATURE
from demo.readings import Found
from demo.story import Story

KNOCKS = Work(
    "PD 05 TBU",
    "Knocks at the front on cobbles, worse when turning",
    (("front.inspection", "yes"), ("front.ball_joint.lower", "left"), ("front.stabiliser", "yes")),
    may_mail="yes",
    choices={"front.stabiliser.parts": "links"},
)
# l1 the ball joint, which the customer does not want, l2 the inspection, l3 the stabiliser's links.
OFFERED = {
    **{f"l1.{name}": text for name, text in JOINT.items()},
    "l2.labour.0.text": "Finding the fault, front axle", "l2.labour.0.hours": "0.5",
    "l3.labour.0.text": "Renew both links", "l3.labour.0.hours": "0.8",
    "l3.part.0.name": "Stabiliser link", "l3.part.0.count": "2", "l3.part.0.price": "17.90",
}  # fmt: skip
DEARER = {"l3.labour.0.hours": "1.3", "why": "Both links are rusted into the arms and have to be cut out"}
KNOCKS_NOTE = "The ball joint can wait until autumn, as you asked."
FOUND = {
    "l2.complaint": Found("clunk", "sound", "Knocks on cobbles"),
    "l2.road_test": Found("confirmed", "watch", "Knocks on cobbles, from the front right"),
    "l2.stabiliser_links.left": Found("loose", "replace", "Ball worn, moves 2 mm"),
    "l2.stabiliser_links.right": Found("loose", "replace", "Ball worn, moves 3 mm"),
}
# By hand: 0.5 h and 1.3 h at 84.00, two links at 17.90, 20 % on all of it, rounded once for each line.
SAYS = ("42.00", "109.20", "35.80", "50.40 GBP", "174.00 GBP", "224.40 GBP")


class PricedJob:
    """Maud prices and asks; the technician finds each line shut until the customer has said yes to what it costs."""

    def __init__(self, story: Story, office: FrontOffice, hand: Hand) -> None:
        self.story, self.office, self.hand = story, office, hand

    def keep_prices(self) -> None:
        page = self._open("/desk/prices")
        form = page.form_to("/desk/prices")
        every = {"tax.0.falls_on": FALLS_ON[0]}
        page = self.office.desk.browser.send(page, form, PRICES, forced=every)
        self.story.expect("said=kept" in page.address, f"Maud keeps what the workshop charges {said_against(page)}")

    def offer(self, job: str, typed: Mapping[str, str], what: str) -> None:
        place = f"/jobs/{job}/estimate"
        page = self._open(f"{place}/prices")
        page = self.office.desk.browser.send(page, page.form_to(f"{place}/prices"), typed)
        self.story.expect("done=made" in page.address, f"{what} {said_against(page)}".strip())

    def agree(self, job: str, said: Mapping[str, str], how: Mapping[str, str], what: str) -> None:
        place = f"/jobs/{job}/estimate/answer"
        page = self._open(place)
        form = page.form_to(place)
        told = {f"{line}.said": answer for line, answer in said.items()}
        page = self.office.desk.browser.send(page, form, {**told, **how})
        self.story.expect("done=answered" in page.address, f"{what} {said_against(page)}".strip())

    def free(self, job: str) -> None:
        """The workshop's own fault costs nothing, and is agreed by telephone all the same."""
        page = self._open(f"/jobs/{job}/estimate/prices")
        lines = [name for name in page.form_to(f"/jobs/{job}/estimate/prices").offers if name.endswith(".free")]
        self.offer(job, dict.fromkeys(lines, "yes"), "Maud offers the re-check free of charge")
        said = {name.partition(".")[0]: "yes" for name in lines}
        self.agree(job, said, {**by_phone(), "read_out": "0", "words": ""}, "Nell Hale says yes by telephone")

    def is_shut(self, step: str, why: str) -> None:
        card = self.hand.card_now(step)
        waits = card.element.first(cls="hand__waits")
        shut = card.form("test_recorded") is None and card.form("step_done") is None
        self.story.expect(shut, f"“{card.name}” cannot be worked on: {waits.text if waits else ''}")
        self.story.refused(why, waits.text if waits else "", "customer")

    def _open(self, address: str) -> Page:
        return self.office.desk.browser.open(address)


def by_phone() -> dict[str, str]:
    """What Maud writes down of the call; the sum she reads out is that of the lines the customer wants."""
    return {
        "way": "phone", "name": "Nell Hale", "number": "01632 960 144", "said_at": in_hours(0),
        "read_out": "174.00", "words": "Leave the ball joint until autumn",
    }  # fmt: skip


SIGNED = {"way": "signed", "name": "Nell Hale", "signature": SIGNATURE}
