"""A wrench comes back from the laboratory out of true: what was tightened with it is found, and looked at again."""

from __future__ import annotations

import re
from urllib.parse import urlsplit

from demo.browser import Page, PageUnlike
from demo.front_office import FrontOffice, in_hours
from demo.hands import said_against
from demo.story import Story

TOO_HIGH = 1.08
JOB = re.compile(r"/jobs/([0-9]{2}-[0-9]{4})")


class Recall:
    """Maud enters the certificate; the house lists every joint, and opens a job for each vehicle that has to come."""

    def __init__(self, story: Story, office: FrontOffice) -> None:
        self.story, self.desk = story, office.desk

    def out_of_true(self, tag: str) -> Page:
        """The tracing page of a wrench that measured eight hundredths more than it was set to, and was set right."""
        crib = self.desk.browser.open("/desk/tools")
        link = next((one.attrs["href"] for one in crib.root.all("a") if one.text.split()[:1] == [tag]), "")
        if not link:
            raise PageUnlike(f"{crib.address} has no wrench {tag}")
        tool = urlsplit(link).path
        page = self.desk.browser.open(f"{tool}/calibrations/new")
        form = page.form_to(f"{tool}/calibrations")
        typed = {
            "done_on": in_hours(0)[:10], "done_by": "Weir Street Test Bench (invented)", "document": "WS-2207",
            "adjusted": "yes",
        }  # fmt: skip
        for name, value in form.values.items():
            if name.startswith("set.") and value:
                number, unit = re.fullmatch(r"([0-9.]+) ?(.*)", value).groups()  # type: ignore[union-attr]
                typed[f"measured.{name.removeprefix('set.')}"] = f"{float(number) * TOO_HIGH:.2f} {unit}".strip()
        page = self.desk.browser.send(page, form, typed)
        form = page.form_to(f"{tool}/calibrations") if page.status == 422 else None
        if form is not None and "sure" in form.offers:
            page = self.desk.browser.send(page, form, {"sure": "yes"})
        found = "/desk/tracing/calibrations/" in page.address
        self.story.expect(found, f"{tag} measured too high; every joint it tightened is listed {said_against(page)}")
        return page

    def open_rechecks(self, page: Page, plate: str) -> str:
        """One press opens them; gives the number of the one for this vehicle."""
        address = urlsplit(page.address).path
        before = {number for number, _ in self._open_jobs()}
        page = self.desk.browser.send(page, page.form_to(f"{address}/rechecks"))
        new = [(number, words) for number, words in self._open_jobs() if number not in before]
        mine = next((number for number, words in new if plate in words), "")
        self.story.expect(bool(mine), f"Maud opens {len(new)} re-checks, job {mine or '(none)'} for {plate}")
        return mine

    def _open_jobs(self) -> list[tuple[str, str]]:
        """Number and words of each job on the Desk's front."""
        desk = self.desk.browser.open("/desk")
        links = ((JOB.match(urlsplit(one.attrs.get("href", "")).path), one.text) for one in desk.root.all("a"))
        return [(found[1], words) for found, words in links if found is not None]
