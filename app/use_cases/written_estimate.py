"""An estimate in words and figures as the customer reads it: one content for screen, paper and mail.

What is in it: the workshop's name, address and registration, the job's number, odometer, complaint; labour apart from
parts, each part's kind, what is destroyed by opening, work sent out and by whom, the basis of the hours, taxes, total,
how long it holds, and that old parts are kept on request. Sources: Cal. Bus. & Prof. Code 9884.8 to 9884.11; 16 CCR
3353, 3355, 3356; Fla. Stat. 559.905, 559.909.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import tzinfo
from decimal import Decimal
from typing import TypeAlias

from app.domain.estimate import Answer, Estimate, LineStanding, OfferedLine, TaxPart
from app.domain.packet import PriceState
from app.language.procedures import said
from app.language.speech import _
from app.trade.labour import LineKind, Money, limit_of
from app.use_cases.shop_time import date_words

Word: TypeAlias = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class WrittenPiece:
    text: str
    detail: str
    amount: str


@dataclass(frozen=True, slots=True)
class WrittenLine:
    """state: how it stands, in words; "" where nothing was said yet."""

    line: str
    title: str
    labour: tuple[WrittenPiece, ...]
    parts: tuple[WrittenPiece, ...]
    others: tuple[WrittenPiece, ...]
    sums: tuple[tuple[str, str], ...]
    total: str
    is_free: bool
    warning: str
    state: str


@dataclass(frozen=True, slots=True)
class Written:
    """Everything of one edition, ready to be shown. wanted: the total without what is not wanted, "" if all is."""

    title: str
    number: str
    edition: int
    made: str
    made_by: str
    valid: str
    shop: str
    shop_lines: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    complaint: str
    lines: tuple[WrittenLine, ...]
    sums: tuple[tuple[str, str], ...]
    total: str
    wanted: str
    notes: tuple[str, ...]
    why: str
    said: tuple[WrittenAnswer, ...]


@dataclass(frozen=True, slots=True)
class WrittenAnswer:
    """What was said, by whom and how, and who recorded it. signature: an SVG path of whole numbers, or ""."""

    head: str
    lines: tuple[str, ...]
    signature: str


def written(
    estimate: Estimate,
    standing: Mapping[str, LineStanding],
    answers: Sequence[Answer],
    zone: tzinfo,
    word: Word,
) -> Written:
    """word: gives a short word by "group.key"."""
    who, currency = estimate.parties, estimate.currency
    titles = {line.line: said(line.title) for line in estimate.lines}
    return Written(
        title=_("Estimate {number}, edition {edition}", number=estimate.number, edition=estimate.edition),
        number=estimate.number,
        edition=estimate.edition,
        made=f"{date_words(estimate.made_at.astimezone(zone).date())}, {estimate.made_at.astimezone(zone):%H:%M}",
        made_by=estimate.made_by_name,
        valid=date_words(estimate.valid_until),
        shop=who.shop,
        shop_lines=tuple(one for one in (*who.address.split("\n"), who.phone, who.email) if one.strip()),
        facts=tuple(_facts(estimate)),
        complaint=who.complaint,
        lines=tuple(written_line(line, currency, standing.get(line.line), word) for line in estimate.lines),
        sums=tuple(_sums(estimate)),
        total=coins(estimate.total_minor(), currency),
        wanted=_wanted(estimate, standing),
        notes=tuple(_notes(estimate, word)),
        why=estimate.why,
        said=tuple(
            written_answer(one, currency, titles, zone, word) for one in answers if one.edition == estimate.edition
        ),
    )


def coins(minor: int, currency: str) -> str:
    """ "251.21 USD"."""
    return str(Money(currency, minor))


def plain(minor: int, currency: str) -> str:
    """ "251.21", for a column whose currency stands at its foot."""
    return f"{Money(currency, minor).amount:f}"


def per_cent(ppm: int) -> str:
    return f"{(Decimal(ppm) / 10_000).normalize():f} %"


def hours_words(seconds: int) -> str:
    """ "1.5 h"; finer than a hundredth as hours, minutes and seconds."""
    if seconds % 36 == 0:
        return f"{(Decimal(seconds) / 3_600).normalize():f} h"
    return _(
        "{what} h {what_2} min {what_3} s", what=seconds // 3_600, what_2=seconds % 3_600 // 60, what_3=seconds % 60
    )


def _wanted(estimate: Estimate, standing: Mapping[str, LineStanding]) -> str:
    refused = {line for line, one in standing.items() if one.state in (PriceState.REFUSED, PriceState.PUT_BACK)}
    wanted = sum(line.total_minor for line in estimate.lines if line.line not in refused)
    return coins(wanted, estimate.currency) if refused and wanted != estimate.total_minor() else ""


def _facts(estimate: Estimate) -> list[tuple[str, str]]:
    who = estimate.parties
    odometer = (
        _("{odometer_km} km", odometer_km=f"{who.odometer_km:,}").replace(",", "\u202f")
        if who.odometer_km is not None
        else _("not read")
    )
    return [
        (_("Job"), estimate.number),
        (_("Customer"), who.customer),
        (_("Vehicle"), who.vehicle),
        (_("Plate"), who.plate),
        (_("Odometer"), odometer),
        (_("Registration of the workshop"), who.registration or _("none given")),
    ]


def written_line(line: OfferedLine, currency: str, standing: LineStanding | None, word: Word) -> WrittenLine:
    prices = iter(line.pieces)
    labour = tuple(
        WrittenPiece(
            work.text,
            _(
                "{hours_words} at {plain} an hour, {what}",
                hours_words=hours_words(work.seconds),
                plain=plain(work.rate_minor, currency),
                what=word(f"time_basis.{work.basis.value}"),
            ),
            plain(next(prices), currency),
        )
        for work in line.labour
    )
    parts = tuple(
        WrittenPiece(
            part.name,
            ", ".join(
                one
                for one in (
                    word(f"part_condition.{part.condition.value}"),
                    _("no. {number}", number=part.number) if part.number else "",
                    f"{(Decimal(part.count_milli) / 1_000).normalize():f} × {plain(part.unit_minor, currency)}",
                    _("old part goes back to the supplier") if part.exchange else "",
                    _("does not survive opening") if part.destroyed else "",
                )
                if one
            ),
            plain(next(prices), currency),
        )
        for part in line.parts
    )
    others = tuple(
        WrittenPiece(
            other.text,
            _("sent out to {by}", by=other.by) if other.kind is LineKind.SUBLET else "fee",
            plain(next(prices), currency),
        )
        for other in line.others
    )
    return WrittenLine(
        line=line.line,
        title=said(line.title),
        labour=labour,
        parts=parts,
        others=others,
        sums=tuple(_line_sums(line, currency)),
        total=_("free of charge") if line.is_free else coins(line.total_minor, currency),
        is_free=line.is_free,
        warning=_warning(line, currency),
        state=_state(standing, currency, word),
    )


def _line_sums(line: OfferedLine, currency: str) -> list[tuple[str, str]]:
    if line.is_free:
        return []
    rows = [(_("Discount, taken off above"), per_cent(line.discount_ppm))] if line.discount_ppm else []
    rows += [(_("Labour"), plain(line.labour_minor, currency)), (_("Parts"), plain(line.parts_minor, currency))]
    rows += [(_("Sent out and fees"), plain(line.other_minor, currency))] if line.others else []
    return rows + [tax_row(tax, currency) for tax in line.taxes if tax.base_minor]


def tax_row(tax: TaxPart, currency: str) -> tuple[str, str]:
    label = _(
        "{name}, {per_cent} of {plain}",
        name=tax.name,
        per_cent=per_cent(tax.rate_ppm),
        plain=plain(tax.base_minor, currency),
    )
    return (label, plain(tax.amount_minor, currency))


def _warning(line: OfferedLine, currency: str) -> str:
    if not line.tear_down:
        return ""
    charge = (
        _(
            " If you say no after it was opened, taking apart and putting together costs {coins}, tax included.",
            coins=coins(line.tear_down_minor, currency),
        )
        if line.tear_down_minor
        else _(" If you say no after it was opened, nothing is charged for taking apart.")
    )
    return f"{line.tear_down.rstrip('.')}.{charge}"


def _state(standing: LineStanding | None, currency: str, word: Word) -> str:
    if standing is None or standing.state is PriceState.NONE:
        return ""
    words = word(f"price_state.{standing.state.value}")
    if standing.state is PriceState.AGREED and standing.passed_minor:
        return _(
            "{words} at {coins}; the rise may be charged without asking",
            words=words,
            coins=coins(standing.agreed_minor, currency),
        )
    if standing.state is PriceState.CHANGED:
        return _("{words}; agreed were {coins}", words=words, coins=coins(standing.agreed_minor, currency))
    return words


def _sums(estimate: Estimate) -> list[tuple[str, str]]:
    currency = estimate.currency
    rows = [
        (_("Labour"), plain(estimate.labour_minor(), currency)),
        (_("Parts"), plain(estimate.parts_minor(), currency)),
    ]
    if any(line.others for line in estimate.lines):
        rows.append((_("Sent out and fees"), plain(estimate.other_minor(), currency)))
    rows.append((_("Before tax"), plain(estimate.net_minor(), currency)))
    return rows + [tax_row(tax, currency) for tax in estimate.taxes()]


def _notes(estimate: Estimate, word: Word) -> list[str]:
    law = limit_of(estimate.jurisdiction)
    notes = []
    if estimate.basis:
        notes.append(_("Hours are charged {what}.", what=word(f"time_basis_all.{estimate.basis}")))
    notes.append(_("Every part is new unless it says otherwise."))
    notes.append(
        _("You can say yes or no to each line of work; the others keep their price. Tax is rounded line by line.")
    )
    notes.append(
        _(
            "You get the replaced parts back if you ask for it when you agree. "
            "Parts that go back to the supplier are shown to you."
        )
    )
    if law.excess_share.value or law.excess_minor:
        notes.append(f"{_law_words(law.name, law.excess_share.value, law.excess_minor, law.cap_minor, law.currency)}")
    else:
        notes.append(_("If it is to cost more, you are asked before the work goes on."))
    return notes


def _law_words(name: str, share: int, minor: int, cap: int | None, currency: str) -> str:
    parts = [f"{per_cent(share)}"] + ([f"{coins(minor, currency)}"] if minor else [])
    most = _(", and never by more than {coins}", coins=coins(cap, currency)) if cap is not None else ""
    greater = _("the greater of ") if len(parts) > 1 else ""
    above = _("{greater}{what} above what you agreed to{most}", greater=greater, what=_(" and ").join(parts), most=most)
    return _("If it is to cost more than {above}, you are asked first ({name}).", above=above, name=name)


def written_answer(answer: Answer, currency: str, titles: Mapping[str, str], zone: tzinfo, word: Word) -> WrittenAnswer:
    said, kept = answer.said_at.astimezone(zone), answer.recorded_at.astimezone(zone)
    how = word(f"answer_way.{answer.way.value}")
    number = f" ({answer.number})" if answer.number else ""
    head = _(
        "{name}, {how}{number}, {date_words}, {said}. Recorded by {recorded_by_name}, {date_words_2}, {kept}.",
        name=answer.name,
        how=how,
        number=number,
        date_words=date_words(said.date()),
        said=f"{said:%H:%M}",
        recorded_by_name=answer.recorded_by_name,
        date_words_2=date_words(kept.date()),
        kept=f"{kept:%H:%M}",
    )
    lines = [
        f"{'Yes' if one.yes else 'No'}: {titles.get(one.line, one.line)}"
        + (f", {coins(one.price_minor, currency)}" if one.price_minor else _(", free of charge") if one.yes else "")
        + (f"; {word(f'put_back.{one.put_back.value}')}" if one.put_back else "")
        for one in answer.answers
    ]
    if any(one.yes for one in answer.answers):
        lines.append(_("Together {coins}", coins=coins(answer.read_out_minor, currency)))
    if answer.old_parts:
        lines.append(_("Wants the old parts back"))
    if answer.words:
        lines.append(f"“{answer.words}”")
    return WrittenAnswer(head, tuple(lines), answer.signature)
