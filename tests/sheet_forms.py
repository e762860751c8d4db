"""Working on a sheet as a browser does: find a form on the page, fill it in, send it with everything it carries."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

from starlette.testclient import TestClient

from app.domain.packet import CheckKind, Gate, Packet, Pass, Step
from app.domain.records import Job, Person
from app.domain.sheet import Sheet
from app.domain.standing import asked_gates, gate_state, supported, waits_for
from tests.furnished import TestOffice


@dataclass
class PageForm:
    """A form as it stands on the page. `shown`: names of what a person can fill in; `typed`: what stands in it."""

    action: str = ""
    method: str = ""
    hidden: dict[str, str] = field(default_factory=dict)
    shown: list[str] = field(default_factory=list)
    typed: dict[str, str] = field(default_factory=dict)
    buttons: list[str] = field(default_factory=list)

    @property
    def key(self) -> str:
        return self.hidden.get("sheet_form", "")


class _Forms(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.forms: list[PageForm] = []
        self._now: PageForm | None = None
        self._textarea = ""
        self._button = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._now = PageForm(has.get("action", ""), has.get("method", ""))
            self.forms.append(self._now)
        elif self._now is not None and tag == "input":
            self._input(self._now, has)
        elif self._now is not None and tag == "textarea":
            self._textarea = has["name"]
            self._now.shown.append(has["name"])
            self._now.typed[self._textarea] = ""
        elif tag == "button":
            self._button = True

    def _input(self, form: PageForm, has: dict[str, str]) -> None:
        name = has.get("name", "")
        if has.get("type") == "hidden":
            form.hidden[name] = has.get("value", "")
            return
        form.shown.append(name)
        if has.get("type") not in ("radio", "checkbox") or "checked" in has:
            form.typed[name] = has.get("value", "")

    def handle_data(self, data: str) -> None:
        if self._now is None:
            return
        if self._textarea:
            self._now.typed[self._textarea] += data
        elif self._button:
            self._now.buttons.append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._now = None
        elif tag == "textarea":
            self._textarea = ""
        elif tag == "button":
            self._button = False


def forms_in(page: str) -> dict[str, PageForm]:
    """The sheet's forms of a page by their key."""
    parser = _Forms()
    parser.feed(page)
    return {form.key: form for form in parser.forms if form.key}


@dataclass
class Worker:
    """Somebody signed in at a browser, working on one sheet. `page` is what they look at."""

    made: TestOffice
    client: TestClient
    number: str
    job: str
    person: str
    page: str = ""
    status: int = 0

    @property
    def sheet(self) -> Sheet:
        with self.made.store.reading() as unit:
            sheet = unit.sheets.get(self.job)
        assert sheet is not None
        return sheet

    @property
    def packet(self) -> Packet:
        packet = self.sheet.packet
        assert packet is not None
        return packet

    def look(self, **asked: str) -> Worker:
        answer = self.client.get(f"/jobs/{self.number}/sheet", params=asked)
        self.page, self.status = answer.text, answer.status_code
        return self

    def until(self, key: str, *, gates: bool = True) -> Step:
        """Do everything up to the step with this key in the procedure; gives it, held right and its gates open."""
        while (step := next_step(self.sheet)) is not None and step.key != key:
            self.does_next()
        assert step is not None, f"no step {key}"
        self.hold_for(step)
        if gates:
            self.open_gates(step)
        self.look(step=step.id)
        return step

    @property
    def forms(self) -> dict[str, PageForm]:
        return forms_in(self.page)

    def sends(self, key: str, **fields: str) -> Worker:
        """Fill a form of the page in and send it; follows to the page that comes next."""
        form = self.forms[key]
        return self.posts({**form.typed, **form.hidden, **fields})

    def posts(self, fields: dict[str, str]) -> Worker:
        answer = self.client.post(f"/jobs/{self.number}/entries", data=fields)
        self.status = answer.status_code
        if answer.status_code == 303:
            answer = self.client.get(answer.headers["location"])
        self.page = answer.text
        return self

    # Whole moves

    def does_next(self) -> Step | None:
        """Do all of the next open step, as someone does who does everything right; gives the step."""
        step = next_step(self.sheet)
        if step is None:
            return None
        self.hold_for(step)
        self.open_gates(step)
        self.record(step)
        self.look(step=step.id)
        parts = dict.fromkeys(self.forms["done"].shown, "yes")
        self.sends("done", **parts)
        return step

    def hold_for(self, step: Step) -> None:
        wanted = step.supports
        for fastener in step.fasteners:
            wanted = tuple(one for one in wanted if one in fastener.load_states)
        if not supported(self.sheet.support, step.axle, wanted):
            state = next((one for one in wanted if one.value.startswith("stands")), wanted[0])
            self.look(step=step.id).sends("support", state=state.value, axle="both", bears="as the step says")

    def open_gates(self, step: Step) -> None:
        for gate in asked_gates(self.sheet, step):
            if gate_state(self.sheet, gate.id, self.person, self.now_ms) is not None:
                self.look(step=step.id).sends(f"gate-{gate.id}", **answers_for(gate))

    def record(self, step: Step) -> None:
        self.look(step=step.id)
        if step.measures:
            self.sends("measures", **{f"value.{one.id}": inside(one.low, one.high) for one in step.measures})
        if step.trial is not None:
            choice = next((one for one in step.trial.choices if one.passes), step.trial.choices[0])
            verdict = "sound" if choice.passes else "watch"
            self.sends("trial", choice=choice.key, verdict=verdict, reason="as seen")
        for fastener in step.fasteners:
            if fastener.tighten is Pass.SNUG:
                self.look(step=step.id).sends(f"sign-{fastener.id}", new_part="yes")
                continue
            self.look(step=step.id, at=fastener.id, wrench="W2")
            self.sends(f"sign-{fastener.id}-W2", **{"reading.0": "110", "new_part": "yes"})

    @property
    def now_ms(self) -> int:
        return self.made.office.now_ms


def at_work(made: TestOffice, person: Person, job: Job) -> Worker:
    """Somebody signed in, with the sheet of this job before them."""
    return Worker(made, made.client(person), job.number, job.id, person.id).look()


def second_looks(worker: Worker, step_id: str) -> None:
    """Give the second reading at every joint of a step that wants one, and the look at the step itself."""
    step = worker.packet.step_by_id[step_id]
    for fastener in step.fasteners:
        if fastener.critical and fastener.id not in worker.sheet.step(step_id).counters:
            worker.hold_for(step)
            for gate in asked_gates(worker.sheet, step):
                if f"gate-{gate.id}" in worker.look(step=step_id).forms:
                    worker.sends(f"gate-{gate.id}", **answers_for(gate))
            worker.look(step=step_id, at=fastener.id, wrench="W2")
            worker.sends(f"second-{fastener.id}-W2", **{"reading.0": "111"})
    if "look" in worker.look(step=step_id).forms:
        worker.sends("look", seen="Everything in place, pins in")


def next_step(sheet: Sheet) -> Step | None:
    assert sheet.packet is not None
    left = [one for one in sheet.packet.steps if sheet.step(one.id).done is None]
    return next((one for one in left if waits_for(sheet, one) is None), None)


def answers_for(gate: Gate) -> dict[str, str]:
    """Answers that open a gate: as given by someone who found everything right."""
    answers = {}
    for check in gate.checks:
        match check.kind:
            case CheckKind.SEEN:
                answers[f"answer.{check.id}"] = next(one.key for one in check.choices if one.passes)
            case CheckKind.READY:
                answers[f"answer.{check.id}"] = "yes"
            case CheckKind.VALUE:
                answers[f"answer.{check.id}"] = within_limits(check.at_least, check.at_most, check.unit, gate)
    return answers


SMALL = {"kg": 1_000, "mm": 1_000, "N": 1_000, "kN": 1_000_000, "min": 60_000, "s": 1_000, "kPa": 1_000, "bar": 100_000}


def within_limits(low: int | None, high: int | None, unit: str, gate: Gate) -> str:
    """A number in `unit` that fits, with room for a label that counts half."""
    if low is not None:
        return str(low * 2 // SMALL[unit] + 1)
    return str((high or 0) // SMALL[unit])


def inside(low: int | None, high: int | None) -> str:
    return "3" if low is None and high is None else str(((low or 0) + (high or low or 0)) // 2 // 1_000)
