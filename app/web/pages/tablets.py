"""What the pages about tablets receive: every time, number and reason already a text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from app.domain.records import AlarmKind
from app.language.speech import _
from app.texts import sentence
from app.use_cases.floor_view import AlarmShown, OwingShown
from app.web.pages.form import FormShown


def entries_words(count: int) -> str:
    return "1 entry" if count == 1 else _("{count} entries", count=count)


def names_words(names: Sequence[str]) -> str:
    """ "Ada", "Ada and Ben", "Ada, Ben and Cleo"."""
    return _(" and ").join(part for part in (", ".join(names[:-1]), names[-1] if names else "") if part)


@dataclass(frozen=True, slots=True)
class AlarmLine:
    """words: what is missing. more: since when, who worked there, what to do."""

    id: str
    words: str
    more: list[str]
    raised: str
    link: str


def photos_words(count: int) -> str:
    return _("1 photo") if count == 1 else _("{count} photos", count=count)


def alarm_line(one: AlarmShown) -> AlarmLine:
    if one.kind is AlarmKind.PHOTO_REFUSED:
        return _photos_line(one)
    whole = one.kind is AlarmKind.WENT_BACK and not one.count
    code = "tablet_alarm.went_back_whole" if whole else f"tablet_alarm.{one.kind.value}"
    more = [sentence("tablet_alarm_since", at=one.made)] if one.made else []
    if one.people:
        more.append(sentence("tablet_alarm_people", names=names_words(one.people)))
    more.append(sentence("tablet_alarm_ask" if one.people else "tablet_alarm_nobody"))
    return AlarmLine(
        id=one.key,
        words=sentence(code, tablet=one.tablet, entries=entries_words(one.count)),
        more=more,
        raised=one.raised,
        link=f"/floor/tablets/{one.key}",
    )


def _photos_line(one: AlarmShown) -> AlarmLine:
    """Nothing is missing from a sheet but the pictures: what to do is another thing than with entries."""
    blanks = {"tablet": one.tablet, "photos": photos_words(one.count), "number": one.number}
    more = [sentence("tablet_alarm_photo_by", names=names_words(one.people))] if one.people else []
    more.append(sentence("tablet_alarm_photo"))
    words = sentence("tablet_alarm.photo_refused" if one.number else "tablet_alarm.photo_refused_no_job", **blanks)
    return AlarmLine(one.key, words, more, one.raised, f"/floor/tablets/{one.key}")


def owing_line(one: OwingShown) -> str:
    return sentence("tablet_owes", tablet=one.tablet, entries=entries_words(one.count), at=one.heard)


@dataclass(frozen=True, slots=True)
class AlarmPage:
    """settled: who has settled it, when and why; "" while nobody has."""

    alarm: AlarmLine
    settled: str
    action: str
    form: FormShown = field(default_factory=FormShown)
    title: str = field(default_factory=lambda: _("A tablet's entries"))


@dataclass(frozen=True, slots=True)
class TabletLine:
    name: str
    link: str
    seen: str
    bundle: str
    owes: str
    readiness: str
    state: str


@dataclass(frozen=True, slots=True)
class TabletsPage:
    tablets: list[TabletLine]
    said: list[str] = field(default_factory=list)
    title: str = field(default_factory=lambda: _("Tablets"))


@dataclass(frozen=True, slots=True)
class TabletPage:
    """One tablet. facts: label and words. alarms: what it had and the office does not have, settled or not."""

    title: str
    facts: list[tuple[str, str]]
    alarms: list[str]
    owes: str
    retired: bool
    name_action: str
    retire_action: str
    name_form: FormShown
    retire_form: FormShown
    said: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class TabletCodePage:
    """A one-time code as it is shown once. qr: the address as SVG made by segno. doubt: why a tablet will refuse it."""

    code: str
    until: str
    address: str
    qr: str
    doubt: str
    title: str = field(default_factory=lambda: _("Enrol a tablet"))


@dataclass(frozen=True, slots=True)
class EnrolPage:
    """What a device shows that is about to become a tablet. says: the sentences its script says, by name."""

    code: str
    says: list[tuple[str, str]]
    title: str = field(default_factory=lambda: _("Make this a tablet of the workshop"))
