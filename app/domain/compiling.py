"""Makes a packet from procedures and one vehicle's facts: pure, and the same bytes every time.

The order of the house:
* an *opening* line (what is measured before) comes before, and a *closing* line after, every line of work;
* steps of a work line that need the weight on the wheels after work in the air wait for the closing's step that puts
  it there: "snug now, torque at ride height";
* a fact nobody has given is asked for; a figure nobody has given stays absent; nothing is guessed.

What a line may be opened on, and what figures the procedures want, is answered here too (`why_not`, `procedures_for`,
`figure_keys`), so that the desk asks the same rules as the packet.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import product
from typing import TypeAlias

from app.domain.conditions import Subject, judge
from app.domain.packet import (
    Axle,
    Check,
    Choice,
    Fastener,
    Figure,
    Gate,
    Line,
    Measure,
    OneTime,
    Packet,
    Pass,
    Reckoned,
    Step,
    Support,
    Trial,
    Wrench,
)
from app.domain.problems import OursToMend, Problem
from app.domain.procedure import PLACEHOLDERS, Book, placeholders
from app.domain.procedure_schema import (
    CheckText,
    ChoiceText,
    FastenerText,
    Layout,
    MeasureText,
    OptionText,
    Procedure,
    Reckon,
    StepText,
)
from app.domain.reckoning import Reckoning, reckon
from app.domain.records import AxleFacts, JobLine, Shop, Vehicle
from app.trade.units import parse_quantity

PACKET_FORM = 1
OPENING_LINE = "opening"
CLOSING_LINE = "closing"
SIDES = ("left", "right")

RIDE_HEIGHT = (Support.ON_WHEELS, Support.ON_RAMP)
HANGING = (Support.LIFT_FRAME, Support.STANDS_FRAME)


class BookFault(OursToMend):
    """Procedures that cannot be put together although each reads well: a final pass that is missing, or there twice."""


@dataclass(frozen=True, slots=True)
class Window:
    """The maker's limits for a measure, in its dimension's small unit, with where they came from."""

    low: int | None
    high: int | None
    text: str
    source: str


@dataclass(frozen=True)
class Order:
    """What a packet is made from.

    figures: by `f"{axle}/{figure key}"`; windows: by `f"{axle}/{family}/{measure id}"`.
    previous: the edition before, whose unchanged steps keep their revision.
    """

    job: str
    number: str
    edition: int
    vehicle: Vehicle
    lines: tuple[JobLine, ...]
    figures: Mapping[str, Figure]
    wrenches: tuple[Wrench, ...]
    shop: Shop
    previous: Packet | None = None
    windows: Mapping[str, Window] = field(default_factory=dict)


def compile_packet(book: Book, order: Order) -> Packet | tuple[Problem, ...]:
    """Give the packet of a job, or everything that keeps it from being made.

    Problems: no_lines, line_twice, unknown_procedure, unknown_layout, place_missing, axle_wrong, corner_missing,
              corner_unneeded, option_missing, option_unknown, fact_unknown, not_for_layout (detail `says`),
              fact_missing (detail `ask`). The field is the line's id, or `front.FACT` for a fact.
    """
    problems = [*_vehicle_problems(book, order.vehicle), *_line_problems(order.lines)]
    plans = []
    for line in order.lines:
        plan = _plan(book, order, line)
        if isinstance(plan, Plan):
            plans.append(plan)
        else:
            problems += plan
    if problems:
        return _once(problems)
    framed = _frame(book, order, tuple(plans))
    compiler = _Compiler(book, order, framed)
    drafts, missing = compiler.drafts()
    if missing:
        return _once(missing)
    return compiler.packet(_joined(framed, drafts))


# --- Which lines a vehicle may have -------------------------------------------------------------------------------


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
    subject = _with_options(axle_subject(book, axle_facts), procedure, options or {})
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
        if procedure.is_frame:
            continue
        asked = _asked_options(procedure, [subject])
        refused = {
            (name, choice): problem
            for name in asked
            for choice in procedure.options[name].choices
            if (problem := why_not(book, key, axle_facts, {name: choice})) is not None
        }
        missing = tuple(fact for fact in procedure.needs_facts if fact not in subject.known)
        refusal = why_not(book, key, axle_facts)
        whole = refusal is not None
        title = _fill(procedure.title, _neutral_words(procedure, {}))
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
    for procedure in book.procedures.values():
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
    words = _neutral_words(procedure, options)
    return FigurePlace(
        _fill(text.figure, words),
        _fill(text.place, words),
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


def _neutral_words(procedure: Procedure, options: Mapping[str, str]) -> dict[str, str]:
    """Words for texts read outside any job: no side, no axle."""
    words = dict.fromkeys(PLACEHOLDERS, "")
    words |= {"side": "each side", "corner_word": "each side", "axle_word": "this"}
    for name, option in procedure.options.items():
        chosen = options.get(name)
        words[name] = chosen or ""
        words[f"{name}_word"] = option.choices[chosen] if chosen else "/".join(option.choices.values())
    return words


# --- What is known of an axle -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Ground:
    """An axle's layout, and the one it stands in for where an air spring takes another's place (else the same)."""

    own: Layout
    place: Layout


def ground_of(book: Book, facts: AxleFacts) -> Ground | None:
    """The layouts of an axle, or None when an air spring's place is not said.

    Raises: KeyError for a layout the book does not have.
    """
    own = book.layouts[facts.layout]
    if own.spring_on != "as_place":
        return Ground(own, own)
    place = book.layouts.get(facts.place)
    if place is None or place.spring_on == "as_place":
        return None
    return Ground(own, place)


def axle_subject(book: Book, facts: AxleFacts) -> Subject:
    """What conditions may ask of one axle: its layout, what follows from that, and its facts.

    Raises: KeyError for a layout the book does not have; BookFault when an air spring's place is not said.
    """
    ground = ground_of(book, facts)
    if ground is None:
        raise BookFault(f"the place of the {facts.layout} is not said")
    own, place = ground.own, ground.place
    supports = (*place.joint_support, *place.work_support)
    known: dict[str, tuple[str, ...]] = {
        "layout": _distinct((facts.layout, facts.place or facts.layout)),
        "kind": _distinct((own.kind, place.kind)),
        "spring_on": (place.spring_on,),
        "spring_kind": (own.spring_kind,),
        "load_joint": (place.load_joint,),
        "joints": place.joints,
        "stands_under": _distinct(str(state) for state in supports if state.startswith("stands")),
    }
    known |= {key: (value,) for key, value in facts.facts if key in book.facts and value}
    return Subject(known)


def joint_is(ground: Ground, position: str) -> str:
    """Whether a ball joint carries the spring's force here.

    On a solid axle the weight goes through the knuckle's joints whichever they are, so both count as load joints; of a
    multilink axle the load joint is the outer one of the link with the spring, its lower joint.
    """
    carries = {"axle": ("lower", "upper"), "link_outer": ("lower",)}.get(ground.place.load_joint)
    return "load" if position in (carries or (ground.place.load_joint,)) else "follower"


_JOINT_IS_WORDS = {
    "load": "On this axle this joint carries the spring's force: the arm has to be carried first.",
    "follower": "On this axle this joint is a follower: the spring's force goes past it, but the part still drops.",
}


def _distinct(values: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(values))


def _merged_subject(book: Book, parts: Sequence[Subject]) -> Subject:
    keys = {key for part in parts for key in part.known}
    known = {key: _distinct(v for part in parts for v in part.known.get(key, ())) for key in sorted(keys)}
    doubtful = frozenset(key for key in keys if key in book.facts and any(key not in part.known for part in parts))
    return Subject(known, doubtful)


# --- Plans: a line with what is known about it --------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a step is done: an axle and, if it has one, a side."""

    axle: Axle
    side: str = ""

    @property
    def word(self) -> str:
        axle = "front and rear" if self.axle is Axle.BOTH else str(self.axle)
        return f"{axle} {self.side}".strip()


@dataclass(frozen=True)
class Plan:
    """A line of work with its procedure, its place, and the sides it concerns."""

    line: Line
    procedure: Procedure
    spot: Spot
    sides: tuple[Spot, ...]
    options: Mapping[str, str]


def _plan(book: Book, order: Order, line: JobLine) -> Plan | tuple[Problem, ...]:
    procedure = book.procedures.get(line.procedure)
    if procedure is None or procedure.is_frame:
        return (Problem("unknown_procedure", line.id, {"procedure": line.procedure}),)
    axles = (Axle.FRONT, Axle.REAR) if line.axle is Axle.BOTH else (line.axle,)
    if any(_vehicle_problems(book, order.vehicle)):
        return ()
    asked = _asked_options(procedure, [axle_subject(book, _facts(order.vehicle, axle)) for axle in axles])
    problems = [*_place_problems(procedure, line), *_option_problems(procedure, asked, line)]
    if problems:
        return tuple(problems)
    options = dict(line.options)
    spot = Spot(line.axle, line.corner)
    sides = (spot,) if line.corner else tuple(Spot(axle, side) for axle in axles for side in SIDES)
    for axle in axles:
        refused = why_not(book, line.procedure, _facts(order.vehicle, axle), options)
        if refused is not None:
            return (replace(refused, field=line.id),)
    plan = Plan(
        Line(line.id, line.procedure, procedure.version, "", line.axle, line.corner), procedure, spot, sides, options
    )
    title = _fill(procedure.title, _Compiler(book, order, (plan,)).words(plan, spot))
    return replace(plan, line=replace(plan.line, title=title))


def _facts(vehicle: Vehicle, axle: Axle) -> AxleFacts:
    return vehicle.front if axle is Axle.FRONT else vehicle.rear


def _vehicle_problems(book: Book, vehicle: Vehicle) -> Iterator[Problem]:
    for axle in (Axle.FRONT, Axle.REAR):
        facts = _facts(vehicle, axle)
        if facts.layout not in book.layouts:
            yield Problem("unknown_layout", f"{axle}.layout", {"layout": facts.layout})
        elif ground_of(book, facts) is None:
            yield Problem("place_missing", f"{axle}.place", {"layout": book.layouts[facts.layout].name})
        for key, value in facts.facts:
            if key not in book.facts or value not in book.facts[key].choices:
                yield Problem("fact_unknown", f"{axle}.{key}", {"fact": key, "value": value})


def _line_problems(lines: tuple[JobLine, ...]) -> Iterator[Problem]:
    if not lines:
        yield Problem("no_lines")
    seen: set[tuple[object, ...]] = set()
    ids = {OPENING_LINE, CLOSING_LINE}
    for line in lines:
        key = (line.procedure, line.axle, line.corner, tuple(sorted(line.options)))
        if key in seen or line.id in ids:
            yield Problem("line_twice", line.id, {"procedure": line.procedure})
        seen.add(key)
        ids.add(line.id)


def _place_problems(procedure: Procedure, line: JobLine) -> Iterator[Problem]:
    if (line.axle is Axle.BOTH) is not (procedure.scope == "vehicle"):
        yield Problem("axle_wrong", line.id, {"procedure": line.procedure, "scope": procedure.scope})
    if procedure.scope == "corner" and line.corner not in SIDES:
        yield Problem("corner_missing", line.id, {"procedure": line.procedure})
    if procedure.scope != "corner" and line.corner:
        yield Problem("corner_unneeded", line.id, {"procedure": line.procedure})


def _asked_options(procedure: Procedure, subjects: Sequence[Subject]) -> tuple[str, ...]:
    """The options that are asked on these axles. One whose condition hangs on an unknown fact is asked."""
    return tuple(
        name
        for name, option in procedure.options.items()
        if any(judge(option.when, subject).value is not False for subject in subjects)
    )


def _option_problems(procedure: Procedure, asked: Sequence[str], line: JobLine) -> Iterator[Problem]:
    given = dict(line.options)
    for name in asked:
        option = procedure.options[name]
        if not given.get(name):
            yield Problem("option_missing", f"{line.id}.{name}", {"ask": option.ask})
        elif given[name] not in option.choices:
            yield Problem("option_unknown", f"{line.id}.{name}", {"value": given[name]})
    for name in given:
        if name not in asked:
            yield Problem("option_unknown", f"{line.id}.{name}", {"value": given[name]})


def _refusal(procedure: Procedure, subject: Subject, words: Mapping[str, str], where: str) -> Problem | None:
    for refusal in procedure.refuse:
        if judge(refusal.when, subject).value:
            return Problem(
                "not_for_layout", where, {"says": _fill(refusal.says, words), "procedure": procedure.procedure}
            )
    return None


def _with_options(subject: Subject, procedure: Procedure, options: Mapping[str, str]) -> Subject:
    chosen = {name: (options[name],) for name in procedure.options if options.get(name)}
    # An option that is not asked here has no value: a condition on it is false, not unknown.
    idle = {name: () for name in procedure.options if name not in _asked_options(procedure, [subject])}
    return Subject({**subject.known, **idle, **chosen}, subject.doubtful)


def _frame(book: Book, order: Order, plans: tuple[Plan, ...]) -> tuple[Plan, ...]:
    """Put opening and closing round the lines of work, for the axles and sides these concern."""
    work = [plan for plan in plans if plan.procedure.is_work]
    if not work:
        return plans
    sides = tuple(dict.fromkeys(side for plan in work for side in plan.sides))
    sides = tuple(sorted(sides, key=lambda spot: (spot.axle is not Axle.FRONT, spot.side)))
    axles = _distinct(side.axle for side in sides)
    axle = Axle(axles[0]) if len(axles) == 1 else Axle.BOTH

    def framed(line_id: str, procedure: Procedure | None) -> tuple[Plan, ...]:
        if procedure is None:
            return ()
        line = Line(line_id, procedure.procedure, procedure.version, procedure.title, axle)
        return (Plan(line, procedure, Spot(axle), sides, {}),)

    return (*framed(OPENING_LINE, book.opening), *plans, *framed(CLOSING_LINE, book.closing))


# --- Drafts: a step at a spot, before the lines are joined ---------------------------------------------------------


@dataclass(frozen=True)
class Draft:
    """A compiled step whose `after` so far knows only its own line; `text` says what it was made from."""

    step: Step
    text: StepText
    plan: Plan
    spot: Spot

    @property
    def needs_wheels_down(self) -> bool:
        return all(state in RIDE_HEIGHT for state in self.step.supports)

    @property
    def is_in_the_air(self) -> bool:
        return not any(state in RIDE_HEIGHT for state in self.step.supports)


GateAsk: TypeAlias = tuple[str, Spot, Subject, Mapping[str, str]]


@dataclass
class _Compiler:
    """Compiles the steps of all lines, and collects the gates they ask for and the facts that are missing."""

    book: Book
    order: Order
    plans: tuple[Plan, ...]
    problems: list[Problem] = field(default_factory=list)
    asked: dict[str, GateAsk] = field(default_factory=dict)
    late_work: bool = False

    # What is known --------------------------------------------------------------------------------------------

    @cached_property
    def subjects(self) -> Mapping[Axle, Subject]:
        vehicle = self.order.vehicle
        inspected = any(plan.procedure.family == "inspection" for plan in self.plans)
        shared: dict[str, tuple[str, ...]] = {
            "high_voltage": ("yes" if vehicle.high_voltage else "no",),
            "inspected": ("yes" if inspected else "no",),
        }
        parts = {axle: axle_subject(self.book, _facts(vehicle, axle)) for axle in (Axle.FRONT, Axle.REAR)}
        for key, kind in self.book.facts.items():
            if kind.of == "vehicle":
                said = _distinct(v for part in parts.values() for v in part.known.get(key, ()))
                # One axle's yes is the vehicle's yes, whatever the other axle's record says.
                if said:
                    shared[key] = ("yes",) if "yes" in said else said
        of_axle = {axle: Subject({**part.known, **shared, "axle": (str(axle),)}) for axle, part in parts.items()}
        return {**of_axle, Axle.BOTH: _merged_subject(self.book, tuple(of_axle.values()))}

    def subject(self, plan: Plan, spot: Spot, text: StepText | None = None) -> Subject:
        subject = _with_options(self.subjects[spot.axle], plan.procedure, plan.options)
        position = text.joint if text is not None and text.joint else _position(plan)
        if spot.axle is Axle.BOTH:
            return subject
        if position == "upper":
            # A fact recorded for the upper joint apart answers here for the one both share.
            uppers = {kind.upper_of: subject.known.get(key) for key, kind in self.book.facts.items() if kind.upper_of}
            subject = subject.with_values(**{key: values for key, values in uppers.items() if values})
        ground = ground_of(self.book, _facts(self.order.vehicle, spot.axle))
        return subject if ground is None else subject.with_values(joint_is=joint_is(ground, position))

    def words(self, plan: Plan, spot: Spot, subject: Subject | None = None) -> dict[str, str]:
        axles = (Axle.FRONT, Axle.REAR) if spot.axle is Axle.BOTH else (spot.axle,)
        grounds = [(axle, ground_of(self.book, _facts(self.order.vehicle, axle))) for axle in axles]
        words = {
            name: _for_each(((axle, word_of(ground)) for axle, ground in grounds if ground is not None))
            for name, word_of in _LAYOUT_WORDS.items()
        }
        words |= {
            "axle": str(spot.axle),
            "axle_word": "front and rear" if spot.axle is Axle.BOTH else str(spot.axle),
            "side": spot.side,
            "corner_word": spot.word,
            "joint_is_words": _JOINT_IS_WORDS.get(subject.first("joint_is") if subject else "", ""),
            "retorque_km": str(self.order.shop.retorque_km),
        }
        for name, option in plan.procedure.options.items():
            chosen = plan.options.get(name, "")
            words[name] = chosen
            words[f"{name}_word"] = option.choices.get(chosen, "")
        return words

    def holds(self, condition: object, subject: Subject, spot: Spot) -> bool:
        truth = judge(condition, subject)  # type: ignore[arg-type]
        for fact in sorted(truth.missing):
            self.ask_for(fact, spot)
        return bool(truth.value)

    def ask_for(self, fact: str, spot: Spot) -> None:
        kind = self.book.facts.get(fact)
        if kind is None:
            raise BookFault(f"a condition asks for {fact}, which is not known at {spot.word}")
        axles = (Axle.FRONT, Axle.REAR) if spot.axle is Axle.BOTH else (spot.axle,)
        for axle in axles:
            if fact not in self.subjects[axle].known:
                self.problems.append(Problem("fact_missing", f"{axle}.{fact}", {"ask": kind.ask, "axle": str(axle)}))

    # Steps ----------------------------------------------------------------------------------------------------

    def drafts(self) -> tuple[Mapping[str, tuple[Draft, ...]], tuple[Problem, ...]]:
        """Every line's steps by line id, and the facts that are missing."""
        done = {}
        for plan in self.plans:
            for fact in plan.procedure.needs_facts:
                for axle in _distinct(side.axle for side in plan.sides):
                    if fact not in self.subjects[Axle(axle)].known:
                        self.ask_for(fact, Spot(Axle(axle)))
            done[plan.line.id] = self._line(plan)
        return done, tuple(self.problems)

    def _line(self, plan: Plan) -> tuple[Draft, ...]:
        present: dict[str, dict[Spot, str]] = {}
        texts = {text.key: text for text in plan.procedure.steps}
        for text in plan.procedure.steps:
            present[text.key] = {
                spot: _step_id(plan, text, spot)
                for spot in self._spots(plan, text)
                if self.holds(text.when, self.subject(plan, spot, text), spot)
            }
        befores = _Befores(plan, present, texts)
        return tuple(
            self._draft(plan, texts[key], spot, step_id, befores.of(key, spot))
            for key, spots in present.items()
            for spot, step_id in spots.items()
        )

    def _spots(self, plan: Plan, text: StepText) -> tuple[Spot, ...]:
        if text.per_side:
            return plan.sides
        if text.per_axle:
            return tuple(Spot(Axle(axle)) for axle in _distinct(side.axle for side in plan.sides))
        return (plan.spot,)

    def _draft(self, plan: Plan, text: StepText, spot: Spot, step_id: str, after: tuple[str, ...]) -> Draft:
        subject = self.subject(plan, spot, text)
        words = self.words(plan, spot, subject)
        supports = self._supports(text.support, spot)
        step = Step(
            id=step_id,
            line=plan.line.id,
            key=text.key,
            title=_fill(text.title, words),
            do=_fill(text.do, words),
            why=_fill(text.why, words),
            axle=spot.axle,
            supports=supports,
            corner=spot.side,
            caution=_fill(text.caution, words),
            gates=self._gates(text, step_id, spot, subject, words, supports),
            measures=tuple(
                self._measure(one, plan, spot, words) for one in text.measures if self.holds(one.when, subject, spot)
            ),
            fasteners=tuple(
                self._fastener(one, spot, words, supports)
                for one in text.fasteners
                if self.holds(one.when, subject, spot)
            ),
            one_time=tuple(
                OneTime(one.id, _fill(one.what, words)) for one in text.one_time if self.holds(one.when, subject, spot)
            ),
            tools=tuple(_fill(tool, words) for tool in text.tools),
            trial=self._trial(text, step_id, spot, subject, words),
            after=after,
            countersign=text.countersign,
            photo=_fill(text.photo, words),
            reckoned=_lines(self._reckon(name, spot.axle) for name in text.reckon),
        )
        return Draft(step, text, plan, spot)

    def _supports(self, support: str | tuple[Support, ...], spot: Spot) -> tuple[Support, ...]:
        if not isinstance(support, str):
            return support
        if support in ("any", "bench"):
            return tuple(Support)
        if support in ("hanging", "ride_height"):
            return HANGING if support == "hanging" else RIDE_HEIGHT
        axles = (Axle.FRONT, Axle.REAR) if spot.axle is Axle.BOTH else (spot.axle,)
        grounds = [ground_of(self.book, _facts(self.order.vehicle, axle)) for axle in axles]
        states = {
            state
            for ground in grounds
            if ground is not None
            for states, named in ((ground.place.work_support, "work"), (ground.place.joint_support, "joint"))
            if support in (named, "held")
            for state in states
        }
        return tuple(state for state in Support if state in states)

    def _measure(self, text: MeasureText, plan: Plan, spot: Spot, words: Mapping[str, str]) -> Measure:
        key = _fill(text.id, words)
        window = self.order.windows.get(f"{spot.axle}/{plan.procedure.family}/{key}")
        low = parse_quantity(text.at_least, text.dimension).value if text.at_least else None
        high = parse_quantity(text.at_most, text.dimension).value if text.at_most else None
        measure = Measure(
            key, _fill(text.ask, words), str(text.dimension), text.unit, text.must, text.required, low, high
        )
        if window is not None:
            return replace(measure, low=window.low, high=window.high, window_text=window.text, source=window.source)
        return replace(measure, window_text=_window_text(text), source=text.source)

    def _fastener(
        self, text: FastenerText, spot: Spot, words: Mapping[str, str], supports: tuple[Support, ...]
    ) -> Fastener:
        key = _fill(text.figure, words)
        figure = self.order.figures.get(f"{spot.axle}/{key}")
        load = supports if text.load == "step" else self._supports(text.load, spot)
        return Fastener(
            id=text.id,
            place=_fill(text.place, words),
            tighten=text.tighten,
            load_states=load,
            figure_key=key,
            thread=figure.thread if figure else "",
            strength=figure.strength if figure else "",
            lubrication=figure.lubrication if figure else "",
            one_time=text.one_time or (figure is not None and figure.one_time),
            critical=text.critical or (figure is not None and figure.critical),
            castellated=text.castellated,
            # A snug pass has no figure: it only draws the parts together.
            figure=figure if text.tighten is Pass.FINAL else None,
        )

    def _trial(
        self, text: StepText, step_id: str, spot: Spot, subject: Subject, words: Mapping[str, str]
    ) -> Trial | None:
        if text.trial is None:
            return None
        choices = self._choices(text.trial.choices, spot, subject, words)
        return Trial(step_id, _fill(text.trial.part, words), choices, _fill(text.trial.against, words))

    def _choices(
        self, texts: tuple[ChoiceText, ...], spot: Spot, subject: Subject, words: Mapping[str, str]
    ) -> tuple[Choice, ...]:
        return tuple(
            Choice(
                text.key,
                _fill(text.words, words),
                text.passes if isinstance(text.passes, bool) else self.holds(text.passes, subject, spot),
            )
            for text in texts
            if self.holds(text.when, subject, spot)
        )

    # Gates ----------------------------------------------------------------------------------------------------

    def _gates(
        self,
        text: StepText,
        step_id: str,
        spot: Spot,
        subject: Subject,
        words: Mapping[str, str],
        supports: tuple[Support, ...],
    ) -> tuple[str, ...]:
        ids = []
        for key in _with_brought(self.book, text.gates):
            gate = self.book.gates[key]
            if gate.supports and not set(gate.supports) & set(supports):
                continue
            if not self.holds(gate.when, subject, spot):
                continue
            gate_id = {"axle": f"{key}:{spot.axle}", "sheet": key, "step": f"{key}:{step_id}"}[gate.scope]
            self.asked.setdefault(gate_id, (key, spot, subject, words))
            ids.append(gate_id)
        return tuple(ids)

    def gates(self) -> tuple[Gate, ...]:
        return tuple(self._gate(gate_id, *ask) for gate_id, ask in self.asked.items())

    def _gate(self, gate_id: str, key: str, spot: Spot, subject: Subject, words: Mapping[str, str]) -> Gate:
        text = self.book.gates[key]
        known = subject.with_values(late_work="yes" if self.late_work else "no")
        axle = Axle.BOTH if text.scope == "sheet" else spot.axle
        checks = [one for one in text.checks if self.holds(one.when, known, spot)]
        names = [*text.shows, *(name for one in checks for name in _reckon_names(one))]
        return Gate(
            id=gate_id,
            key=key,
            title=text.title,
            signal=text.signal,
            symbol=text.symbol,
            intro=_fill(text.intro, words),
            checks=tuple(self._check(one, axle, spot, known, words) for one in checks),
            stale_after_s=(self.order.shop.gate_minutes if text.stale == "shop" else text.stale) * 60,
            follows_support=text.follows_support,
            reckoned=_lines(self._reckon(name, axle) for name in names),
            supports=text.supports,
        )

    def _check(self, text: CheckText, axle: Axle, spot: Spot, subject: Subject, words: Mapping[str, str]) -> Check:
        low, high = self._limit(text, text.at_least, axle), self._limit(text, text.at_most, axle)
        return Check(
            id=text.id,
            kind=text.kind,
            ask=_fill(text.ask, words),
            otherwise=_fill(text.otherwise, words),
            choices=self._choices(text.choices, spot, subject, words),
            dimension=str(text.dimension or ""),
            unit=text.unit,
            at_least=low.value if low else None,
            at_most=high.value if high else None,
            halve_unless=text.halve_unless,
            limit_text=" and ".join(
                f"{word} {limit.text}" for word, limit in (("at least", low), ("at most", high)) if limit and limit.text
            ),
            needs_input=next((limit.needs for limit in (low, high) if limit and limit.needs), ""),
        )

    def _limit(self, text: CheckText, limit: str | Reckon | None, axle: Axle) -> Reckoning | None:
        if limit is None or text.dimension is None:
            return None
        if isinstance(limit, Reckon):
            return self._reckon(limit.reckon, axle)
        return Reckoning(text.dimension, parse_quantity(limit, text.dimension).value)

    def _reckon(self, name: str, axle: Axle) -> Reckoning:
        return reckon(name, self.order.vehicle, axle, self.order.shop)

    # The packet -----------------------------------------------------------------------------------------------

    def packet(self, joined: tuple[tuple[Step, ...], bool]) -> Packet:
        steps, self.late_work = joined
        gates = self.gates()
        if self.problems:
            raise BookFault(f"a gate asks for a fact no step asked for: {self.problems[0].field}")
        _each_final_once(steps)
        vehicle, order = self.order.vehicle, self.order
        keys = _distinct(plan.line.procedure for plan in self.plans)
        return Packet(
            v=PACKET_FORM,
            job=order.job,
            number=order.number,
            edition=order.edition,
            vehicle=_vehicle_words(vehicle),
            layouts=_layout_keys(vehicle),
            lines=tuple(plan.line for plan in self.plans),
            steps=_revised(steps, order.previous),
            gates=gates,
            wrenches=tuple(sorted(order.wrenches, key=lambda wrench: wrench.tag)),
            procedures={key: f"{self.book.procedures[key].version}:{self.book.digests[key]}" for key in keys},
            missing=_missing(steps, gates),
        )


def _position(plan: Plan) -> str:
    """Which joint a line is about: its own option where it has one, else the lower."""
    for name in ("joint_position", "arm"):
        if plan.options.get(name) in ("lower", "upper"):
            return plan.options[name]
    return "lower"


def _step_id(plan: Plan, text: StepText, spot: Spot) -> str:
    if text.per_side:
        place = spot.side if plan.procedure.scope == "axle" else f"{spot.axle}_{spot.side}"
        return f"{plan.line.id}.{text.key}.{place}"
    return f"{plan.line.id}.{text.key}.{spot.axle}" if text.per_axle else f"{plan.line.id}.{text.key}"


@dataclass(frozen=True)
class _Befores:
    """Which steps of its own line a step waits for, reaching past those that are switched off."""

    plan: Plan
    present: Mapping[str, Mapping[Spot, str]]
    texts: Mapping[str, StepText]

    @cached_property
    def named(self) -> Mapping[str, tuple[str, ...]]:
        keys = list(self.texts)
        return {
            key: text.after if text.after is not None else tuple(keys[max(0, at - 1) : at])
            for at, (key, text) in enumerate(self.texts.items())
        }

    def of(self, key: str, spot: Spot) -> tuple[str, ...]:
        return tuple(dict.fromkeys(one for before in self.named[key] for one in self._ids(before, spot)))

    def _ids(self, key: str, spot: Spot) -> tuple[str, ...]:
        fitting = tuple(step_id for at, step_id in self.present[key].items() if _touches(at, spot))
        return fitting or self.of(key, spot)


def _touches(one: Spot, other: Spot) -> bool:
    """Whether two spots have ground in common: the same side, or a side and its axle."""
    axles = Axle.BOTH in (one.axle, other.axle) or one.axle is other.axle
    return axles and (not one.side or not other.side or one.side == other.side)


# --- Joining the lines --------------------------------------------------------------------------------------------


def _joined(plans: tuple[Plan, ...], drafts: Mapping[str, tuple[Draft, ...]]) -> tuple[tuple[Step, ...], bool]:
    """Tie the lines together: opening first, closing last, and late steps once the weight is on the wheels.

    Gives the steps in the order of the lines, and whether any of them is late.
    """
    late = {step_id for plan in plans if plan.procedure.is_work for step_id in _late(drafts[plan.line.id])}
    opening, closing = drafts.get(OPENING_LINE, ()), drafts.get(CLOSING_LINE, ())
    opened = _ends(opening, frozenset())
    others = [draft for plan in plans if plan.line.id != CLOSING_LINE for draft in drafts[plan.line.id]]
    finished = _ends(others, late)
    down = tuple(draft.step.id for draft in closing if draft.text.weight_on)
    if late and not down:
        raise BookFault("steps wait for the weight on the wheels, and no closing step puts it there")
    late_ends = _ends([draft for draft in others if draft.step.id in late], frozenset())
    steps = []
    for plan in plans:
        for draft in drafts[plan.line.id]:
            step = draft.step
            more: tuple[str, ...] = ()
            if plan.line.id == CLOSING_LINE:
                more = finished if not step.after else ()
                if set(step.after) & set(down):
                    more = (*more, *late_ends)
            elif step.id in late:
                more = () if any(one in late for one in step.after) else down
            elif plan.procedure.is_work and not step.after:
                more = opened
            steps.append(replace(step, after=tuple(dict.fromkeys((*step.after, *more)))))
    return tuple(steps), bool(late)


def _late(drafts: tuple[Draft, ...]) -> Iterator[str]:
    """Steps that need the weight on the wheels after work in the air, and whatever comes after them."""
    in_the_air: set[str] = set()
    late: set[str] = set()
    for draft in _in_order(drafts):
        step = draft.step
        if any(one in in_the_air for one in step.after) or draft.is_in_the_air:
            in_the_air.add(step.id)
        waits = draft.needs_wheels_down and any(one in in_the_air for one in step.after)
        if waits or any(one in late for one in step.after):
            late.add(step.id)
            yield step.id


def _in_order(drafts: tuple[Draft, ...]) -> Iterator[Draft]:
    """Each step after all it waits for. The book has no circles."""
    given: set[str] = set()
    left = list(drafts)
    while left:
        ready = [draft for draft in left if all(one in given for one in draft.step.after)]
        for draft in ready:
            given.add(draft.step.id)
            yield draft
        left = [draft for draft in left if draft.step.id not in given]


def _ends(drafts: Sequence[Draft], leaving_out: Iterable[str]) -> tuple[str, ...]:
    """The steps nobody waits for, among those not left out."""
    out = set(leaving_out)
    kept = [draft.step for draft in drafts if draft.step.id not in out]
    waited_for = {one for step in kept for one in step.after}
    return tuple(step.id for step in kept if step.id not in waited_for)


# --- Finishing ----------------------------------------------------------------------------------------------------


def _each_final_once(steps: tuple[Step, ...]) -> None:
    """Every joint is brought to its figure exactly once in its line, and never before it was drawn up.

    Raises: BookFault naming the joint.
    """
    finals: dict[tuple[str, str, str, str], int] = {}
    snugs: set[tuple[str, str, str, str]] = set()
    for step in steps:
        for fastener in step.fasteners:
            key = (step.line, str(step.axle), step.corner, fastener.figure_key)
            if fastener.tighten is Pass.FINAL:
                finals[key] = finals.get(key, 0) + 1
            else:
                snugs.add(key)
    for key in sorted(snugs - finals.keys()):
        raise BookFault(f"{key[3]} is drawn up in line {key[0]} and never brought to its figure")
    for key, times in finals.items():
        if times > 1:
            raise BookFault(f"{key[3]} is brought to its figure {times} times in line {key[0]}")


def _revised(steps: tuple[Step, ...], previous: Packet | None) -> tuple[Step, ...]:
    if previous is None:
        return steps
    before = previous.step_by_id
    revised = []
    for step in steps:
        old = before.get(step.id)
        same = old is not None and replace(old, revision=step.revision) == step
        revised.append(step if old is None else replace(step, revision=old.revision if same else old.revision + 1))
    return tuple(revised)


def _missing(steps: tuple[Step, ...], gates: tuple[Gate, ...]) -> tuple[str, ...]:
    """What the desk still has to give: `figure:front/…` for a torque, `input:…` (in words) for a sum at a gate."""
    figures = {
        f"figure:{step.axle}/{fastener.figure_key}"
        for step in steps
        for fastener in step.fasteners
        if fastener.tighten is Pass.FINAL and fastener.figure is None
    }
    inputs = {f"input:{check.needs_input}" for gate in gates for check in gate.checks if check.needs_input}
    return (*sorted(figures), *sorted(inputs))


def _vehicle_words(vehicle: Vehicle) -> dict[str, str]:
    return {
        "plate": vehicle.plate,
        "vin": vehicle.vin,
        "model": vehicle.model,
        "year": "" if vehicle.year is None else str(vehicle.year),
        "colour": vehicle.colour,
        "tyre_front": vehicle.tyre_front,
        "tyre_rear": vehicle.tyre_rear,
    }


def _layout_keys(vehicle: Vehicle) -> dict[str, str]:
    """`front`, `rear`: the layout; `front_place`, `rear_place`: what an air spring stands in for, where it is one."""
    keys = {"front": vehicle.front.layout, "rear": vehicle.rear.layout}
    places = {"front_place": vehicle.front.place, "rear_place": vehicle.rear.place}
    return {**keys, **{key: place for key, place in places.items() if place}}


def _once(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    return tuple({(p.code, p.field): p for p in problems}.values())


def _with_brought(book: Book, keys: Iterable[str]) -> tuple[str, ...]:
    found: dict[str, None] = {}
    todo = list(keys)
    while todo:
        key = todo.pop(0)
        if key not in found:
            found[key] = None
            todo += book.gates[key].brings
    return tuple(found)


def _reckon_names(check: CheckText) -> Iterator[str]:
    for limit in (check.at_least, check.at_most):
        if isinstance(limit, Reckon):
            yield limit.reckon


def _lines(reckonings: Iterable[Reckoning]) -> tuple[Reckoned, ...]:
    return tuple(dict.fromkeys(line for one in reckonings for line in one.lines))


def _window_text(text: MeasureText) -> str:
    parts = (("at least", text.at_least), ("at most", text.at_most))
    return " and ".join(f"{word} {limit}" for word, limit in parts if limit)


def _fill(text: str, words: Mapping[str, str]) -> str:
    return text.format_map(words) if "{" in text or "}" in text else text


def _for_each(said: Iterable[tuple[Axle, str]]) -> str:
    """One text where both axles have the same, else each with its axle."""
    by_axle = dict(said)
    texts = _distinct(by_axle.values())
    if len(texts) <= 1:
        return texts[0] if texts else ""
    return "; ".join(f"{axle} axle: {text}" for axle, text in by_axle.items())


_LAYOUT_WORDS: Mapping[str, Callable[[Ground], str]] = {
    "layout_name": lambda ground: ground.own.name if ground.own is ground.place else _air_name(ground),
    "joint_stand_words": lambda ground: ground.place.joint_stand_words,
    "work_stand_words": lambda ground: ground.place.work_stand_words,
    "arm_stand_words": lambda ground: ground.place.arm_stand_words,
    "spring_release_words": lambda ground: ground.own.spring_release_words,
    "load_joint_word": lambda ground: _joint_word(ground, "load"),
    "follower_joint_word": lambda ground: _joint_word(ground, "follower"),
}


def _joint_word(ground: Ground, wanted: str) -> str:
    return " and ".join(one for one in ground.place.joints if joint_is(ground, one) == wanted)


def _air_name(ground: Ground) -> str:
    return f"{ground.own.name} in place of: {ground.place.name[:1].lower()}{ground.place.name[1:]}"


def _words(subject: Subject, procedure: Procedure, ground: Ground) -> dict[str, str]:
    """Words for a refusal, which is read before any line exists."""
    options = {name: subject.first(name) for name in procedure.options if subject.first(name)}
    words = _neutral_words(procedure, options)
    return words | {name: word_of(ground) for name, word_of in _LAYOUT_WORDS.items()}
