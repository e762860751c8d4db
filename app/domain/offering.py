"""What the desk may offer for an axle, why the rest is not for it, and which torque figures procedures ask for.

The packet is compiled by the same rules (`compiling`), so a line that is offered can be opened.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from app.domain.conditions import Subject, judge
from app.domain.grounds import LAYOUT_WORDS, Ground, axle_subject, fill, ground_of
from app.domain.problems import Problem
from app.domain.procedure import PLACEHOLDERS, Book, placeholders
from app.domain.procedure_schema import FastenerText, OptionText, Procedure
from app.domain.records import AxleFacts


def why_not(
    book: Book, procedure_key: str, axle_facts: AxleFacts, options: Mapping[str, str] | None = None
) -> Problem | None:
    """Say why a procedure is not for such an axle, or None. A fact or option not given yet refuses nothing.

    Raises: KeyError for a procedure or layout the book does not have.
    """
    procedure = book.procedures[procedure_key]
    ground = ground_of(book, axle_facts)
    if ground is None:
        return Problem("place_missing", "place", {"layout": book.layouts[axle_facts.layout].name})
    subject = with_options(axle_subject(book, axle_facts), procedure, options or {})
    return _refusal(procedure, subject, _words(subject, procedure, ground), procedure_key)


@dataclass(frozen=True, slots=True)
class Offer:
    """A procedure as the desk may offer it for an axle: why it is not for this axle, or which choices are not.

    missing_facts: facts that opening this line will ask for.
    """

    procedure: str
    title: str
    family: str
    scope: str
    pairs: bool
    options: Mapping[str, OptionText]
    refusal: Problem | None
    refused_choices: Mapping[tuple[str, str], Problem]
    missing_facts: tuple[str, ...]


def procedures_for(book: Book, axle_facts: AxleFacts) -> tuple[Offer, ...]:
    """Every procedure a line can be opened with, in the book's order of titles; those that do not apply say why.

    Raises: KeyError for a layout the book does not have.
    """
    offers = []
    subject = axle_subject(book, axle_facts) if ground_of(book, axle_facts) else Subject({})
    for key, procedure in book.procedures.items():
        if procedure.is_frame or procedure.is_recheck:
            continue
        asked = asked_options(procedure, [subject])
        refused = {
            (name, choice): problem
            for name in asked
            for choice in procedure.options[name].choices
            if (problem := why_not(book, key, axle_facts, {name: choice})) is not None
        }
        missing = tuple(fact for fact in procedure.needs_facts if fact not in subject.known)
        refusal = why_not(book, key, axle_facts)
        whole = refusal is not None
        title = fill(procedure.title, neutral_words(procedure, {}))
        offers.append(
            Offer(
                key,
                title,
                procedure.family,
                procedure.scope,
                procedure.pairs,
                {name: procedure.options[name] for name in asked},
                refusal or _all_refused(procedure, refused),
                {} if whole else refused,
                missing,
            )
        )
    return tuple(sorted(offers, key=lambda offer: (offer.family, offer.procedure)))


def _all_refused(procedure: Procedure, refused: Mapping[tuple[str, str], Problem]) -> Problem | None:
    for name, option in procedure.options.items():
        if all((name, choice) in refused for choice in option.choices):
            return refused[name, next(iter(option.choices))]
    return None


@dataclass(frozen=True, slots=True)
class FigurePlace:
    """A torque figure that procedures ask for: its key, the place in words, and who asks."""

    key: str
    place: str
    procedures: tuple[str, ...]
    one_time: bool
    critical: bool
    castellated: bool


def figure_keys(book: Book) -> tuple[FigurePlace, ...]:
    """Every fastener figure the book's procedures may ask for, by key, each once."""
    found: dict[str, FigurePlace] = {}
    for procedure in (one for one in book.procedures.values() if not one.is_recheck):
        for step in procedure.steps:
            for text in step.fasteners:
                for options in _option_sets(procedure, text.figure):
                    one = _figure_place(procedure, text, options)
                    found[one.key] = _merged(found.get(one.key), one)
    return tuple(found[key] for key in sorted(found))


def _option_sets(procedure: Procedure, figure: str) -> Iterator[dict[str, str]]:
    used = [name for name in procedure.options if name in placeholders(figure)]
    for chosen in product(*(procedure.options[name].choices for name in used)):
        yield dict(zip(used, chosen, strict=True))


def _figure_place(procedure: Procedure, text: FastenerText, options: dict[str, str]) -> FigurePlace:
    words = neutral_words(procedure, options)
    return FigurePlace(
        fill(text.figure, words),
        fill(text.place, words),
        (procedure.procedure,),
        text.one_time,
        text.critical,
        text.castellated,
    )


def _merged(before: FigurePlace | None, one: FigurePlace) -> FigurePlace:
    if before is None:
        return one
    return replace(
        before,
        procedures=tuple(sorted({*before.procedures, *one.procedures})),
        one_time=before.one_time or one.one_time,
        critical=before.critical or one.critical,
        castellated=before.castellated or one.castellated,
    )


def neutral_words(procedure: Procedure, options: Mapping[str, str]) -> dict[str, str]:
    """Words for texts read outside any job: no side, no axle."""
    words = dict.fromkeys(PLACEHOLDERS, "")
    words |= {"side": "each side", "corner_word": "each side", "axle_word": "this"}
    for name, option in procedure.options.items():
        chosen = options.get(name)
        words[name] = chosen or ""
        words[f"{name}_word"] = option.choices[chosen] if chosen else "/".join(option.choices.values())
    return words


def asked_options(
    procedure: Procedure, subjects: Sequence[Subject], given: Mapping[str, str] | None = None
) -> tuple[str, ...]:
    """The options that are asked on these axles, after those already chosen.

    One whose condition hangs on a fact or an option nobody has given yet is asked.
    """
    chosen = {name: (value,) for name, value in (given or {}).items() if name in procedure.options and value}
    known = [Subject({**subject.known, **chosen}, subject.doubtful) for subject in subjects]
    return tuple(
        name
        for name, option in procedure.options.items()
        if any(judge(option.when, subject).value is not False for subject in known)
    )


def with_options(subject: Subject, procedure: Procedure, options: Mapping[str, str]) -> Subject:
    """What is known with a line's options. One that is not asked here has no value: a condition on it is false."""
    chosen = {name: (options[name],) for name in procedure.options if options.get(name)}
    asked = asked_options(procedure, [subject], options)
    idle: dict[str, tuple[str, ...]] = {name: () for name in procedure.options if name not in asked}
    return Subject({**subject.known, **chosen, **idle}, subject.doubtful)


def _refusal(procedure: Procedure, subject: Subject, words: Mapping[str, str], where: str) -> Problem | None:
    for refusal in procedure.refuse:
        if judge(refusal.when, subject).value:
            return Problem(
                "not_for_layout", where, {"says": fill(refusal.says, words), "procedure": procedure.procedure}
            )
    return None


def _words(subject: Subject, procedure: Procedure, ground: Ground) -> dict[str, str]:
    """Words for a refusal, which is read before any line exists."""
    options = {name: subject.first(name) for name in procedure.options if subject.first(name)}
    words = neutral_words(procedure, options)
    return words | {name: word_of(ground) for name, word_of in LAYOUT_WORDS.items()}
