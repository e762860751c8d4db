"""Desk and foreman of the walk."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from app.bootstrap import wire
from app.domain import entry as e
from app.domain.packet import Axle
from app.domain.records import JobLine
from app.settings import Settings
from app.texts import say_ruling
from app.use_cases.open_job import JobWanted, open_job
from app.use_cases.record_entry import record_form
from demo.player import Player
from demo.story import Story


@dataclass(frozen=True)
class Opened:
    number: str
    id: str


class FrontOffice:
    def __init__(self, story: Story, base: str, settings: Settings) -> None:
        self.story = story
        self.office = wire(settings).office

    def take_in(self, plate: str, complaint: str, work: dict[str, tuple[str, ...]]) -> Opened:
        with self.office.store.reading() as unit:
            vehicle = next(one for one in unit.vehicles.all() if one.plate == plate)
        lines = []
        for key, sides in work.items():
            axle, procedure, *part = key.split(".")
            options = (("joint_position", part[0]),) if part else ()
            lines += [JobLine("", procedure, Axle(axle), side, options) for side in sides]
        at = datetime.now(UTC) + timedelta(hours=6)
        job = open_job(self.office, "maud", JobWanted(vehicle.id, complaint, at, 84_210, tuple(lines)))
        return Opened(job.number, job.id)

    def place(self, job: Opened, bay: str, technician: str) -> None:
        pass

    def try_to_release(self, job: Opened) -> str:
        player = Player(self.office, job.id, "foreman", "")
        ruling = record_form(self.office, player.entry(e.HandedBack(""))).ruling
        return "" if ruling.accepted else say_ruling(ruling.reason, ruling.details)

    def settle(self, job: Opened, reason: str) -> None:
        player = Player(self.office, job.id, "foreman", "")
        for key, one in player.sheet.asides.items():
            if one.settled is None and one.kind != "handed_back":
                player.say(e.Settled(key, "keep_as_note", reason))

    def release(self, job: Opened) -> bool:
        return self.try_to_release(job) == ""
