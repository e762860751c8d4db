"""Take in vehicles and change what is known of them. Everything comes as typed; every amount in any unit.

A sheet already opened keeps the facts it was made from: bringing it up to date is the foreman's, on the job's page.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, field, replace

from app.domain.canonical import digest
from app.domain.conditions import judge
from app.domain.folding import folded
from app.domain.grounds import axle_subject, ground_of
from app.domain.packet import Axle
from app.domain.problems import AlreadyThere, NotFound, Problem, Refused
from app.domain.procedure import Book
from app.domain.records import AxleFacts, Job, JobState, SpringFacts, Vehicle
from app.ports import Unit
from app.trade import vin as vin_sums
from app.trade.problems import NotUnderstood, TradeProblem
from app.trade.quantity import Dimension
from app.trade.tyre import TyreSize
from app.use_cases.keep_customer import CustomerWanted, read_customer
from app.use_cases.office import Office
from app.use_cases.typed_amount import amount_typed, example_of

AXLES = (Axle.FRONT, Axle.REAR)
PLATE_LIMIT = 20
TEXT_LIMITS = {"plate": PLATE_LIMIT, "model": 80, "colour": 40}
SOURCE_LIMIT = 200
FIRST_YEAR = 1900
NEW_CUSTOMER = "new"


@dataclass(frozen=True, slots=True)
class Bound:
    """Between what amounts a figure can be, in small units. House rule: wide, against slips of the keypad only."""

    dimension: Dimension
    unit: str
    low: int
    high: int
    words: str


WHEELBASE = Bound(Dimension.LENGTH, "mm", 1_000_000, 9_000_000, "1 m to 9 m")
TRACK = Bound(Dimension.LENGTH, "mm", 700_000, 2_600_000, "700 mm to 2600 mm")
AXLE_MASS = Bound(Dimension.MASS, "kg", 50_000, 12_000_000, "50 kg to 12 t")
WAIT = Bound(Dimension.DURATION, "min", 1_000, 86_400_000, "1 s to 24 h")
SPRING_BOUNDS = {
    "rate_npm": Bound(Dimension.RATE, "N/mm", 1_000, 2_000_000, "1 N/mm to 2000 N/mm"),
    "free_length_um": Bound(Dimension.LENGTH, "mm", 50_000, 1_500_000, "50 mm to 1500 mm"),
    "installed_um": Bound(Dimension.LENGTH, "mm", 50_000, 1_500_000, "50 mm to 1500 mm"),
    "hanging_um": Bound(Dimension.LENGTH, "mm", 50_000, 1_500_000, "50 mm to 1500 mm"),
    "wire_um": Bound(Dimension.LENGTH, "mm", 2_000, 60_000, "2 mm to 60 mm"),
}
# What each is called on a form, after the axle: `front.spring.rate`.
SPRING_FIELDS = {
    "rate_npm": "spring.rate",
    "free_length_um": "spring.free",
    "installed_um": "spring.installed",
    "hanging_um": "spring.hanging",
    "wire_um": "spring.wire",
}


def add_vehicle(office: Office, typed: Mapping[str, str]) -> Vehicle:
    """Take in a vehicle, with a new customer where one was typed. Raises: Refused with every problem found."""
    return _keep(office, typed, None)


def change_vehicle(office: Office, vehicle_id: str, typed: Mapping[str, str]) -> Vehicle:
    """Change a vehicle. A field `seen` (see `seen_of`) notices that someone else has changed it meanwhile.

    Raises: Refused with every problem found; NotFound.
    """
    return _keep(office, typed, vehicle_id)


def _keep(office: Office, typed: Mapping[str, str], vehicle_id: str | None) -> Vehicle:
    with office.store.writing() as unit:
        before = unit.vehicles.get(vehicle_id) if vehicle_id is not None else None
        if vehicle_id is not None and before is None:
            raise NotFound("vehicle", vehicle_id)
        reader = _Reader(office.book, unit, typed, before)
        made = reader.vehicle(before.id if before is not None else office.new_id(), office.clock().year)
        customer = None
        if reader.is_new_customer:
            wanted = CustomerWanted(*(typed.get(f"customer.{one}", "") for one in ("name", "email", "phone")))
            customer, problems = read_customer(unit, office.new_id(), wanted, "customer.")
            reader.problems += problems
            made = replace(made, customer=customer.id)
        seen = typed.get("seen", "")
        if before is not None and seen and seen != seen_of(before) and made != before:
            reader.problems.append(Problem("changed_meanwhile"))
        if reader.problems:
            raise Refused(reader.problems)
        if customer is not None:
            unit.customers.add(customer)
        try:
            (unit.vehicles.save if before is not None else unit.vehicles.add)(made)
        except AlreadyThere as taken:
            raise Refused([Problem("plate_twice", "plate", {"plate": made.plate, "model": ""})]) from taken
        unit.commit()
    return made


def add_facts(book: Book, vehicle: Vehicle, typed: Mapping[str, str]) -> tuple[Vehicle, list[Problem]]:
    """The vehicle with facts that were asked for at intake (`front.FACT`), and what is wrong with them."""
    problems: list[Problem] = []
    for axle in AXLES:
        own = vehicle.front if axle is Axle.FRONT else vehicle.rear
        facts = dict(own.facts)
        for key, kind in book.facts.items():
            value = typed.get(f"{axle}.{key}", "")
            if not value:
                continue
            if value not in kind.choices:
                problems.append(Problem("fact_unknown", f"{axle}.{key}", {"value": value, "fact": key}))
            facts[key] = value
        changed = replace(own, facts=tuple(facts.items()))
        vehicle = replace(vehicle, front=changed) if axle is Axle.FRONT else replace(vehicle, rear=changed)
    return vehicle, problems


def asked_facts(book: Book, axle: Axle, facts: AxleFacts) -> tuple[str, ...]:
    """The facts worth asking for on such an axle, and any already given. A vehicle's own are asked at the front."""
    given = {key for key, value in facts.facts if value}
    if facts.layout not in book.layouts or ground_of(book, facts) is None:
        return tuple(key for key in book.facts if key in given)
    subject = axle_subject(book, facts)
    return tuple(
        key
        for key, kind in book.facts.items()
        if key in given or (judge(kind.only, subject).value is not False and (kind.of == "axle" or axle is Axle.FRONT))
    )


def missing_facts(book: Book, vehicle: Vehicle) -> tuple[str, ...]:
    """What is not known of a vehicle yet, in words: answers that work asks for, and masses that loads rest on."""
    found = []
    for axle in AXLES:
        facts = vehicle.front if axle is Axle.FRONT else vehicle.rear
        known = {key for key, value in facts.facts if value}
        open_ = [key for key in asked_facts(book, axle, facts) if key not in known and book.facts[key].upper_of is None]
        if facts.mass_g is None:
            found.append(f"{axle} axle: mass")
        if open_:
            found.append(f"{axle} axle: {len(open_)} {'answer' if len(open_) == 1 else 'answers'}")
    return tuple(found)


def has_coil(book: Book, facts: AxleFacts) -> bool:
    layout = book.layouts.get(facts.layout)
    return layout is not None and layout.spring_kind == "coil"


def open_jobs_of(unit: Unit, vehicle_id: str) -> tuple[Job, ...]:
    return tuple(one for one in unit.jobs.where(vehicle=vehicle_id) if one.state is JobState.OPEN)


def seen_of(vehicle: Vehicle) -> str:
    """A mark of what a form showed, to notice that someone else has changed it since."""
    return digest(asdict(vehicle))


def plate_key(text: str) -> str:
    """A plate as it is compared: letters and figures alone, in any case."""
    return "".join(one for one in folded(text) if one.isalnum())


# --- Reading a form ------------------------------------------------------------------------------------------------


@dataclass
class _Reader:
    """Reads the form into a vehicle and gathers every problem on the way."""

    book: Book
    unit: Unit
    typed: Mapping[str, str]
    before: Vehicle | None
    problems: list[Problem] = field(default_factory=list)

    @property
    def is_new_customer(self) -> bool:
        """Chosen so, or nobody chosen and a name typed."""
        chosen = self.text("customer")
        return chosen == NEW_CUSTOMER or (not chosen and bool(self.text("customer.name")))

    def text(self, name: str) -> str:
        return self.typed.get(name, "").strip()

    def vehicle(self, vehicle_id: str, this_year: int) -> Vehicle:
        self._lengths()
        others = [one for one in self.unit.vehicles.all() if one.id != vehicle_id]
        high_voltage = self._yes_no("high_voltage")
        return Vehicle(
            id=vehicle_id,
            plate=self._plate(others),
            vin=self._vin(others),
            model=self._model(others),
            year=self._year(this_year),
            colour=self.text("colour"),
            tyre_front=self._tyre("tyre_front"),
            tyre_rear=self._tyre("tyre_rear"),
            wheelbase_um=self._amount("wheelbase", WHEELBASE),
            front=self._axle(Axle.FRONT),
            rear=self._axle(Axle.REAR),
            high_voltage=high_voltage,
            hv_wait_s=self._wait("hv_wait") if high_voltage else None,
            airbag_wait_s=self._wait("airbag_wait"),
            customer=self._customer(),
        )

    def _lengths(self) -> None:
        for name, limit in TEXT_LIMITS.items():
            if len(self.text(name)) > limit:
                self.say("too_long", name, limit=limit)

    def say(self, code: str, name: str, **details: str | int) -> None:
        self.problems.append(Problem(code, name, details))

    def _plate(self, others: Iterable[Vehicle]) -> str:
        plate = " ".join(self.text("plate").split())
        if not plate and not self.text("vin"):
            self.say("plate_or_vin_missing", "plate")
        elif plate and not plate_key(plate):
            self.say("plate_unclear", "plate", typed=plate[:PLATE_LIMIT])
        for other in others:
            if plate and plate_key(other.plate) == plate_key(plate):
                self.say("plate_twice", "plate", plate=other.plate, model=other.model)
        return plate

    def _vin(self, others: Iterable[Vehicle]) -> str:
        typed = self.text("vin")
        if not typed:
            return ""
        try:
            vin = vin_sums.examine(typed).vin
        except TradeProblem as problem:
            self.problems.append(_vin_problem(problem, typed))
            return typed
        for other in others:
            if other.vin == vin:
                self.say("vin_twice", "vin", plate=other.plate or other.model)
        return vin

    def _model(self, others: Iterable[Vehicle]) -> str:
        model = " ".join(self.text("model").split())
        if not model:
            self.say("model_missing", "model")
        # Figures are kept under this name, so one spelling of it is kept too: the one that is there already.
        known = {other.model.casefold(): other.model for other in others}
        if self.before is not None and self.before.model.casefold() == model.casefold():
            return model
        return known.get(model.casefold(), model)

    def _year(self, this_year: int) -> int | None:
        typed = self.text("year")
        if not typed:
            return None
        if typed.isascii() and typed.isdigit() and FIRST_YEAR <= int(typed[:9]) <= this_year + 1 and len(typed) == 4:
            return int(typed)
        self.say("year_odd", "year", first=FIRST_YEAR, last=this_year + 1)
        return None

    def _tyre(self, name: str) -> str:
        typed = self.text(name)
        if not typed:
            return ""
        try:
            TyreSize.parse(typed)
        except TradeProblem as problem:
            part = problem.details.get("part", "")
            if not isinstance(problem, NotUnderstood):
                self.say("tyre_odd", name, typed=typed[:64], part=part)
            elif part:
                self.say("tyre_unclear.part", name, typed=typed[:64], part=part)
            else:
                self.say("tyre_unclear", name, typed=typed[:64])
        return typed

    def _amount(self, name: str, bound: Bound) -> int | None:
        typed = self.text(name)
        if not typed:
            return None
        amount = amount_typed(typed, bound.dimension, bound.unit, name)
        if isinstance(amount, Problem):
            example = example_of(bound.dimension, bound.unit)
            beyond = amount.code == "amount_beyond"
            self.problems.append(
                Problem("amount_outside", name, {"typed": typed[:64], "bounds": bound.words, "example": example})
                if beyond
                else amount
            )
            return None
        if not bound.low <= amount.value <= bound.high:
            self.say("amount_outside", name, typed=typed[:64], bounds=bound.words)
            return None
        return amount.value

    def _wait(self, name: str) -> int | None:
        waits = self._amount(name, WAIT)
        # A part of a second is waited for as a whole one.
        return None if waits is None else -(-waits // 1_000)

    def _yes_no(self, name: str) -> bool:
        if self.text(name) not in ("yes", "no"):
            self.say("say_yes_or_no", name)
        return self.text(name) == "yes"

    def _customer(self) -> str:
        typed = self.text("customer")
        if not self.is_new_customer and (not typed or self.unit.customers.get(typed) is None):
            self.say("customer_missing", "customer")
        return typed

    def _axle(self, axle: Axle) -> AxleFacts:
        layout, place = self.text(f"{axle}.layout"), self.text(f"{axle}.place")
        if not layout:
            self.say("layout_missing", f"{axle}.layout", axle=str(axle))
        elif layout not in self.book.layouts:
            self.say("unknown_layout", f"{axle}.layout", layout=layout[:40])
        elif self.book.layouts[layout].spring_on != "as_place":
            place = ""
        elif ground_of(self.book, AxleFacts(layout, place=place)) is None:
            self.say("place_missing", f"{axle}.place", layout=self.book.layouts[layout].name)
        facts = AxleFacts(
            layout=layout,
            mass_g=self._amount(f"{axle}.mass", AXLE_MASS),
            track_um=self._amount(f"{axle}.track", TRACK),
            place=place,
            facts=self._facts(axle),
        )
        return replace(facts, spring=self._spring(axle, facts))

    def _facts(self, axle: Axle) -> tuple[tuple[str, str], ...]:
        facts = {}
        for key, kind in self.book.facts.items():
            value = self.text(f"{axle}.{key}")
            if value and value not in kind.choices:
                self.say("fact_unknown", f"{axle}.{key}", value=value[:40], fact=key)
            elif value:
                facts[key] = value
        # What was known stays in its place, so that a form saved unchanged gives the same record.
        known = None
        if self.before is not None:
            known = self.before.front if axle is Axle.FRONT else self.before.rear
        order = dict.fromkeys((*(key for key, _ in (known.facts if known is not None else ())), *facts))
        return tuple((key, facts[key]) for key in order if key in facts)

    def _spring(self, axle: Axle, facts: AxleFacts) -> SpringFacts:
        source = self.text(f"{axle}.spring.source")
        amounts = {name: self._amount(f"{axle}.{SPRING_FIELDS[name]}", bound) for name, bound in SPRING_BOUNDS.items()}
        spring = SpringFacts(**amounts, source=source)
        if len(source) > SOURCE_LIMIT:
            self.say("too_long", f"{axle}.spring.source", limit=SOURCE_LIMIT)
        if not source and any(amount is not None for amount in amounts.values()):
            self.say("spring_source_missing", f"{axle}.spring.source")
        self.problems += _spring_lengths(axle, spring)
        return spring


def _spring_lengths(axle: Axle, spring: SpringFacts) -> Iterator[Problem]:
    """A coil in a vehicle is never longer than free, and longest there with the wheel hanging."""
    free, hanging, installed = spring.free_length_um, spring.hanging_um, spring.installed_um
    if installed is not None and free is not None and installed >= free:
        yield Problem("spring_installed_long", f"{axle}.spring.installed")
    if hanging is not None and free is not None and hanging > free:
        yield Problem("spring_hanging_long", f"{axle}.spring.hanging")
    if hanging is not None and installed is not None and hanging < installed:
        yield Problem("spring_hanging_short", f"{axle}.spring.hanging")


def _vin_problem(problem: TradeProblem, typed: str) -> Problem:
    details: dict[str, str | int] = {**problem.details, "typed": typed[:64]}
    if details.get("reason") == "length":
        return Problem("vin_length", "vin", details)
    code = "vin_character.perhaps" if details.get("perhaps") else "vin_character"
    return Problem(code, "vin", details)


# --- A vehicle as a form shows it ----------------------------------------------------------------------------------


def typed_from(vehicle: Vehicle) -> dict[str, str]:
    """A vehicle as form fields. Amounts are written out exactly, so that saving without a change changes nothing."""
    shown = {
        "plate": vehicle.plate,
        "vin": vehicle.vin,
        "model": vehicle.model,
        "year": str(vehicle.year or ""),
        "colour": vehicle.colour,
        "tyre_front": vehicle.tyre_front,
        "tyre_rear": vehicle.tyre_rear,
        "wheelbase": _thousandths(vehicle.wheelbase_um, "mm"),
        "high_voltage": "yes" if vehicle.high_voltage else "no",
        "hv_wait": _seconds(vehicle.hv_wait_s),
        "airbag_wait": _seconds(vehicle.airbag_wait_s),
        "customer": vehicle.customer,
        "seen": seen_of(vehicle),
    }
    for axle, facts in ((Axle.FRONT, vehicle.front), (Axle.REAR, vehicle.rear)):
        shown |= {
            f"{axle}.layout": facts.layout,
            f"{axle}.place": facts.place,
            f"{axle}.mass": _thousandths(facts.mass_g, "kg"),
            f"{axle}.track": _thousandths(facts.track_um, "mm"),
            f"{axle}.spring.source": facts.spring.source,
            **{f"{axle}.{key}": value for key, value in facts.facts},
        }
        for name, bound in SPRING_BOUNDS.items():
            shown[f"{axle}.{SPRING_FIELDS[name]}"] = _thousandths(getattr(facts.spring, name), bound.unit)
    return shown


def axle_typed(typed: Mapping[str, str], axle: Axle, book: Book) -> AxleFacts:
    """The axle as far as it is typed: which questions to show hangs on it."""
    facts = tuple((key, value) for key in book.facts if (value := typed.get(f"{axle}.{key}", "")))
    layout, place = typed.get(f"{axle}.layout", ""), typed.get(f"{axle}.place", "")
    return AxleFacts(layout, place=place, facts=facts)


def _thousandths(value: int | None, unit: str) -> str:
    """A small unit, a thousandth of the unit shown, written out to its last figure: 29 947 N/m is 29.947 N/mm."""
    if value is None:
        return ""
    whole, rest = divmod(value, 1_000)
    decimals = f"{rest:03d}".rstrip("0")
    return f"{whole}.{decimals} {unit}" if decimals else f"{whole} {unit}"


def _seconds(value: int | None) -> str:
    if value is None:
        return ""
    return f"{value // 60} min" if value % 60 == 0 else f"{value} s"
