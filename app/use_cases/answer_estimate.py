"""Record what the customer said to an estimate, line by line: signed, typed, by telephone or by mail.

Recorded and never changed; what they say later is recorded after it. The sheet follows at once.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from app.domain.estimate import Answer, Estimate, LineAnswer, PutBack, Way
from app.domain.packet import PriceState
from app.domain.problems import NotFound, Problem, Refused
from app.domain.records import JobState
from app.domain.sheet import Sheet
from app.language.procedures import said
from app.trade.labour import Money, money
from app.trade.problems import TradeProblem
from app.use_cases.office import Office, the_shop, zone_of
from app.use_cases.open_job import bring_up_to_date
from app.use_cases.price_lines import Priced, begun_lines, price_job
from app.use_cases.see_sheet import job_by_number
from app.use_cases.typed_fields import Reader

# A drawn name: strokes of whole numbers in a field of 1000 by 300. House rule: shorter than a thumb's breadth is none.
SIGNATURE_WIDTH, SIGNATURE_HEIGHT = 1_000, 300
MOST_SIGNATURE = 12_000
LEAST_DRAWN = 60
_PATH = re.compile(r"(?:M[0-9]{1,4} [0-9]{1,3}(?:L[0-9]{1,4} [0-9]{1,3})*)+")
_POINT = re.compile(r"([ML])([0-9]{1,4}) ([0-9]{1,3})")


@dataclass(frozen=True, slots=True)
class AnswerTyped:
    """What was typed. said: "yes", "no" or "" by line; put_back by line; said_at in the workshop's own time."""

    edition: int
    said: Mapping[str, str]
    put_back: Mapping[str, str]
    way: str
    name: str
    number: str
    said_at: datetime | None
    read_out: str
    signature: str
    tick: bool
    old_parts: bool
    words: str
    id: str = ""


@dataclass(frozen=True, slots=True)
class Answered:
    """sheet_problems: why the sheet could not follow; the answer is kept all the same."""

    answer: Answer
    sheet_problems: tuple[Problem, ...] = ()


def answer_estimate(office: Office, person: str, number: str, typed: AnswerTyped) -> Answered:
    """Record an answer. A form sent twice records one. Raises: Refused with every problem; NotFound."""
    with office.store.writing() as unit:
        job = job_by_number(unit, number)
        before = unit.answers.get(typed.id) if typed.id else None
        if before is not None:
            return Answered(before)
        who = unit.people.get(person)
        if who is None:
            raise NotFound("person", person)
        priced = price_job(unit, job)
        newest = priced.newest
        if job.state is not JobState.OPEN:
            raise Refused([Problem("job_not_open", "", {"number": job.number})])
        if newest is None:
            raise Refused([Problem("estimate_none")])
        sheet = unit.sheets.get(job.id) or Sheet(job.id)
        now = office.clock()
        read = Reader()
        if newest.edition != typed.edition:
            raise Refused([Problem("estimate_moved")])
        today = now.astimezone(zone_of(the_shop(unit))).date()
        answers = _answers(read, newest, typed, priced, begun_lines(sheet))
        if today > newest.valid_until and any(one.yes for one in answers):
            read.wrong("estimate_expired", "", day=newest.valid_until.isoformat())
        agreed = sum(one.price_minor for one in answers if one.yes)
        way = _way(read, typed, newest, agreed, any(one.yes for one in answers))
        said_at = _said_at(read, typed, way, newest, now)
        answer = Answer(
            id=typed.id or office.new_id(),
            job=job.id,
            edition=newest.edition,
            way=way,
            name=read.words(typed.name, "name", missing="answer_name_missing", limit=120),
            number=read.words(typed.number, "number", limit=254),
            said_at=said_at,
            read_out_minor=agreed,
            signature=typed.signature.strip() if way is Way.SIGNED else "",
            old_parts=typed.old_parts,
            words=read.words(typed.words, "words", limit=1_000),
            answers=answers,
            recorded_by=person,
            recorded_by_name=who.name,
            recorded_at=now,
        )
        read.done()
        unit.answers.add(answer)
        unit.commit()
    try:
        bring_up_to_date(office, person, job.id)
    except Refused as refused:
        return Answered(answer, refused.problems)
    return Answered(answer)


def _answers(
    read: Reader, newest: Estimate, typed: AnswerTyped, priced: Priced, begun: frozenset[str]
) -> tuple[LineAnswer, ...]:
    found = []
    for line in newest.lines:
        chosen = typed.said.get(line.line, "")
        if chosen == "":
            continue
        if chosen not in ("yes", "no"):
            read.wrong("choose_one", f"{line.line}.said")
            continue
        back = typed.put_back.get(line.line, "")
        if back not in {one.value for one in PutBack}:
            read.wrong("choose_one", f"{line.line}.put_back")
            back = ""
        if chosen == "no" and line.line in begun and not back:
            read.wrong("put_back_missing", f"{line.line}.put_back", line=said(line.title))
        standing = priced.standing.get(line.line)
        agreed = standing is not None and standing.state is PriceState.AGREED and not standing.passed_minor
        if chosen == "yes" and agreed:
            read.wrong("agreed_already", f"{line.line}.said", line=said(line.title))
        needs = PutBack(back) if chosen == "no" and line.line in begun else PutBack.NONE
        found.append(LineAnswer(line.line, chosen == "yes", line.total_minor, needs))
    if not found and not read.problems:
        read.wrong("answer_lines_missing", "")
    return tuple(found)


def _way(read: Reader, typed: AnswerTyped, newest: Estimate, agreed: int, any_yes: bool) -> Way:
    """Check what each way has to carry. Source: Cal. Bus. & Prof. Code 9884.9(a); the list of fields 16 CCR 2722(a)."""
    if typed.way not in {one.value for one in Way}:
        read.wrong("way_missing", "way")
        return Way.TYPED
    way = Way(typed.way)
    if way is Way.SIGNED:
        _check_signature(read, typed.signature)
    if way is Way.TYPED and not typed.tick:
        read.wrong("tick_missing", "tick")
    if way in (Way.PHONE, Way.MAIL):
        if not typed.number.strip():
            read.wrong("number_missing" if way is Way.PHONE else "mail_missing", "number")
        if any_yes:
            _check_read_out(read, typed.read_out, newest.currency, agreed)
    return way


def _check_read_out(read: Reader, text: str, currency: str, agreed: int) -> None:
    """The price that was read out, typed by whoever read it: it has to be the one the lines come to."""
    if not text.strip():
        read.wrong("read_out_missing", "read_out")
        return
    try:
        found = money(text, currency).minor
    except TradeProblem as problem:
        read.wrong("price_unclear", "read_out", typed=text.strip()[:40], why=str(problem.details.get("reason", "")))
        return
    if found != agreed:
        read.wrong("read_out_differs", "read_out", typed=text.strip()[:40], total=words_of(agreed, currency))


def words_of(minor: int, currency: str) -> str:
    return str(Money(currency, minor))


def _check_signature(read: Reader, path: str) -> None:
    text = path.strip()
    if not text:
        read.wrong("signature_missing", "signature")
    elif len(text) > MOST_SIGNATURE or _PATH.fullmatch(text) is None or not _fits(text):
        read.wrong("signature_unclear", "signature")
    elif _drawn(text) < LEAST_DRAWN:
        read.wrong("signature_short", "signature")


def _points(path: str) -> list[tuple[str, int, int]]:
    return [(move, int(x), int(y)) for move, x, y in _POINT.findall(path)]


def _fits(path: str) -> bool:
    return all(x <= SIGNATURE_WIDTH and y <= SIGNATURE_HEIGHT for _, x, y in _points(path))


def _drawn(path: str) -> int:
    """How far the pen went while down, along and across added up."""
    points = _points(path)
    return sum(abs(x - a) + abs(y - b) for (_, a, b), (move, x, y) in pairwise(points) if move == "L")


def _said_at(read: Reader, typed: AnswerTyped, way: Way, newest: Estimate, now: datetime) -> datetime:
    """When it was said. One who stands there says it now; a call or a mail has its own date and time."""
    if way in (Way.SIGNED, Way.TYPED):
        return now
    if typed.said_at is None:
        read.wrong("said_at_missing", "said_at")
        return now
    # A form's time has minutes only, so the minute the estimate was made in still counts as after it.
    if typed.said_at > now:
        read.wrong("said_at_ahead", "said_at")
    if typed.said_at < newest.made_at - timedelta(minutes=1):
        read.wrong("said_at_before", "said_at")
    return typed.said_at
