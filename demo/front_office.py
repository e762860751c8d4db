"""Desk and foreman of the walk: the one takes vehicles in, the other gives out bays, settles, and hands back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from urllib.parse import parse_qs, urlsplit
from zoneinfo import ZoneInfo

from demo import larkfield
from demo.browser import Browser, Form, Page, PageUnlike
from demo.hands import Hand, said_against
from demo.story import Story

ZONE = ZoneInfo(larkfield.SHOP.timezone)
PINS = {one.name: one.pin for one in larkfield.PEOPLE}


@dataclass(frozen=True)
class Work:
    """What the customer says, and the work ticked for it: rows of the intake form with their sides.

    may_mail: what the customer says at the intake of letters by mail; "" where nobody asks there. choices: what is
    chosen beside the ticks.
    """

    plate: str
    complaint: str
    ticks: tuple[tuple[str, str], ...]
    may_mail: str = ""
    choices: Mapping[str, str] = field(default_factory=dict)


class FrontOffice:
    """Maud at the desk and Ottilie on the floor, each at a browser of their own."""

    def __init__(self, story: Story, base: str) -> None:
        self.story = story
        self.desk = Hand("Maud Pereira", Browser(base), told=story.tell)
        self.foreman = Hand("Ottilie Brand", Browser(base), told=story.tell)

    def sign_in(self) -> None:
        for one, heading in ((self.desk, "Desk"), (self.foreman, "Floor")):
            page = one.sign_in(PINS[one.name])
            self.story.expect(page.heading == heading, f"{one.name} signs in and sees: {page.heading}")

    # --- The desk -------------------------------------------------------------------------------------------------

    def take_in(self, work: Work) -> str:
        """Open a job from the intake form; gives its number."""
        page = self.desk.browser.open(f"/desk/intake?q={work.plate.replace(' ', '+')}")
        head = {"complaint": work.complaint, "odometer_km": "84,210", "promised_at": in_hours(6)}
        head |= {"may_mail": work.may_mail}
        page = self.desk.browser.send(page, page.form_to("/desk/intake"), head)
        self.story.refused("Maud forgets to say what is to be done", said_against(page), "at least one piece of work")
        form = page.form_to("/desk/intake")
        kept = form.values.get("complaint", "")
        self.story.expect(kept == work.complaint, f"What she typed is kept: {kept}")
        ticked = {f"{key}.sides": side for key, side in work.ticks}
        page = self.desk.browser.send(page, form, {**ticked, **work.choices})
        number = parse_qs(urlsplit(page.address).query).get("opened", [""])[0]
        self.story.expect(bool(number), f"Maud opens job {number or '(none)'} on {work.plate} {said_against(page)}")
        return number

    def take_in_again(self, work: Work, earlier: str) -> str:
        """A vehicle that was handed back not long ago: somebody has to say whether it is the same complaint."""
        page = self.desk.browser.open(f"/desk/intake?q={work.plate.replace(' ', '+')}")
        typed = {"complaint": work.complaint, "odometer_km": "84,340", "promised_at": in_hours(6)}
        typed |= {f"{key}.sides": side for key, side in work.ticks}
        page = self.desk.browser.send(page, page.form_to("/desk/intake"), typed)
        self.story.refused("Maud does not say whether it is the same complaint", said_against(page), "same complaint")
        form = page.form_to("/desk/intake")
        page = self.desk.browser.send(page, form, {"comeback": self._same_as(form, earlier)})
        number = parse_qs(urlsplit(page.address).query).get("opened", [""])[0]
        self.story.expect(
            bool(number), f"She asks: it is. Job {number or '(none)'} is open {said_against(page)}".strip()
        )
        return number

    def _same_as(self, form: Form, earlier: str) -> str:
        for one in form.element.all("label", "choice"):
            box = one.first("input")
            if box is not None and box.attrs.get("name") == "comeback" and earlier in one.text:
                return box.attrs["value"]
        raise PageUnlike(f"the intake does not ask about job {earlier}")

    # --- The floor ------------------------------------------------------------------------------------------------

    def place(self, number: str, bay: str, technician: str) -> None:
        page = self._follow(self.foreman.browser.open("/floor"), f"place-{number}")
        form = page.form_to("/floor/placements")
        self.lift_overdue(page)
        chosen = {"bay": radio(form, bay), "technician": radio(form, technician)}
        page = self.foreman.browser.send(page, form, {**chosen, "begins_at": in_hours(0), "ends_at": in_hours(4)})
        placed = page.status == 200 and "placed=" in page.address
        self.story.expect(
            placed, f"Ottilie places job {number} in {bay} with {technician} {said_against(page)}".strip()
        )

    def lift_overdue(self, page: Page) -> None:
        """Bay 3's lift was not inspected within the year: it cannot be chosen, and the page says why."""
        bay = next(one for one in page.root.all("label", "choice") if "Bay 3" in one.text)
        box = bay.first("input")
        shut = box is not None and "disabled" in box.attrs
        self.story.expect(shut, f"A lift that was not inspected in time cannot be chosen\n      {bay.text}")

    def still_open(self, number: str) -> str:
        """What the handback page says is open; "" when it gives the button that releases."""
        page = self.foreman.browser.open(f"/jobs/{number}/handback")
        points = page.root.first("ul", "open-points")
        return points.text if points is not None else ""

    def settle(self, number: str, reason: str) -> None:
        """Settle everything that was set aside on a job, one after the other, from the floor."""
        for _ in range(20):
            floor = self.foreman.browser.open("/floor")
            links = [
                one.attrs["href"]
                for one in floor.root.all("a")
                if one.attrs.get("href", "").startswith(f"/jobs/{number}/asides/")
            ]
            if not links:
                return
            page = self.foreman.browser.open(links[0])
            self._needs_a_reason(page, links[0])
            form = page.form_to(links[0])
            page = self.foreman.browser.send(page, form, {"outcome": "keep_as_note", "reason": reason})
            settled = "done=settled" in page.address
            self.story.expect(settled, f"Ottilie settles it as a note: {reason} {said_against(page)}".strip())

    def _needs_a_reason(self, page: Page, address: str) -> None:
        said = said_against(self.foreman.browser.send(page, page.form_to(address), {"outcome": "keep_as_note"}))
        self.story.refused("Ottilie settles it without a reason", said, "reason")

    def release(self, number: str, note: str) -> None:
        """Hand the job back."""
        page = self.foreman.browser.open(f"/jobs/{number}/handback")
        form = page.form_to(f"/jobs/{number}/handback")
        said = {"note": note, "may_mail": "yes", "comes_at": f"{in_hours(48)[:10]}T09:30"}
        page = self.foreman.browser.send(page, form, said)
        released = "done=released" in page.address
        self.story.expect(released, f"Ottilie hands job {number} back {said_against(page)}".strip())

    def _follow(self, page: Page, link: str) -> Page:
        address = page.need(link).attrs.get("href", "")
        return self.foreman.browser.open(address)


def radio(form: Form, words: str) -> str:
    """The value of the choice that reads so."""
    for one in form.element.all("label", "choice"):
        strong, box = one.first("strong"), one.first("input")
        if strong is not None and strong.text == words and box is not None:
            return box.attrs["value"]
    raise PageUnlike(f"{form.action} has no choice {words!r}")


def in_hours(hours: float) -> str:
    """A moment so far from now on the workshop's clock, as a browser's date and time field sends it."""
    return f"{(datetime.now(UTC) + timedelta(hours=hours)).astimezone(ZONE):%Y-%m-%dT%H:%M}"
