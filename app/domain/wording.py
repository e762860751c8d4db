"""The texts of procedures: where they stand in the files and in a packet, and a packet with them in other words. Pure.

A packet is pinned, hashed and sent in English. Whoever shows one to a person says its texts in that person's language
first, here, in one place: what is shown, and never what is stored or ruled on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Any, TypeAlias, TypeVar

from app.domain.grounds import JOINT_IS_WORDS
from app.domain.packet import Packet, packet_from
from app.domain.procedure import Book
from app.domain.procedure_schema import FileText

Say: TypeAlias = Callable[[str], str]

# Fields of a packet that hold words of procedures; whatever else is in one is a key, a number or typed by people.
PACKET_TEXTS = frozenset((
    "title", "do", "why", "caution", "tools", "photo", "ask", "window_text", "place", "what", "part", "against",
    "words", "label", "text", "inputs", "certainty", "intro", "otherwise", "limit_text", "needs_input",
))  # fmt: skip

_FILE_TEXTS = frozenset((
    "title", "intro", "ask", "otherwise", "words", "name", "joint_stand_words", "work_stand_words", "arm_stand_words",
    "spring_release_words", "says", "place", "what", "part", "against", "do", "why", "caution", "photo", "tools",
))  # fmt: skip

# What a packet's texts are put together from besides the files: `compiling`, `grounds`, `reckoning`, `crib` and the
# spec book's windows. A blank is whatever stands there, said in its turn. A test asks every packet for more.
COMPOSED = (
    "front", "rear", "front and rear", "left", "right", "front left", "front right", "rear left", "rear right",
    "each side", "this", "lower and upper", "front axle: {front}; rear axle: {rear}", "{own} in place of: {place}",
    *JOINT_IS_WORDS.values(),
    "at least {least}", "at most {most}", "at least {least} and at most {most}",
    "{before} In the crib these would do: {tags}.", "{before} None in the crib would do: ask the foreman.",
    "{tag} (until {day})", "Another one, or no tag I can read", "{tool}: {rating}, in date until {day}",
    "{tool}: tagged out: {fault}", "{tool}: nobody has written down an inspection",
    "{tool}: too weak, its label says {rating}", "{rating}, the pair", "{rating}, each stand",
    "stands nearer to the axle: so much weight lies over this axle that it could tip over them",
    "Load on one stand", "both sides taken as equal, body about level",
    "{masses}, wheelbase {wheelbase}; stands no more than {inboard} in from the axle (measured below)",
    "What a stand has to bear by its label", "the load and the shop's margin of {percent} %",
    "The whole vehicle", "front {front}, rear {rear}",
    "The most a jack here can be asked for", "all that stands on the front axle", "all that stands on the rear axle",
    "more than it will be",
    "the coil's rate, front axle", "the coil's rate, rear axle",
    "the coil's free length, front axle", "the coil's free length, rear axle",
    "the coil's length at ride height, front axle", "the coil's length at ride height, rear axle",
    "coil figures that go together, front axle: the length at ride height is not shorter than the free one",
    "coil figures that go together, rear axle: the length at ride height is not shorter than the free one",
    "Energy in the coil", "{energy}, at most {most}: it would lift {mass} by one metre",
    "Force of the coil at its ride-height length", "{force}, at most {most}",
    "rate {rate}, free {free}, at ride height {installed}",
    "rate {rate}, free {free}, at ride height {installed} ({source})",
    "close, within {spread}", "fair, within {spread}", "rough, within {spread}",
    "close, within {spread}; assumed: {assumed}", "fair, within {spread}; assumed: {assumed}",
    "rough, within {spread}; assumed: {assumed}",
    "the spread of its rate", "how closely the lengths were measured", "the spread of its force",
    "the spread of its rate and how closely the lengths were measured",
    "the spread of its rate and the spread of its force",
    "how closely the lengths were measured and the spread of its force",
    "the spread of its rate and how closely the lengths were measured and the spread of its force",
    "What a compressor has to be rated for", "the most force and the shop's margin of {percent} %",
    "wind it no shorter than the coil's length at ride height, or the force is more than this",
    "this vehicle's waiting time after isolating its high voltage, from its maker",
    "this vehicle's waiting time after the battery is off, from its maker",
    "Waiting time of this vehicle", "as its maker gives it",
    "the wheelbase", "the mass on the front axle", "the mass on the rear axle",
    "A figure was typed once. It judges nothing until a second person has typed it too.",
    "{figure}, for {tyre}, and this vehicle stands on {fitted}: allow for it; nothing is judged",
    "{figure}, with {tyre}", "{figure}, to {point}", "{figure}, then {further}",
    "{least} to {most}", "{least} to {most}, target {figure}",
    "at least {least}, target {figure}", "at most {most}, target {figure}", "tyres nobody has noted",
)  # fmt: skip


def texts_of(book: Book) -> dict[str, set[str]]:
    """Every text of the files that a person reads, and what packets put between them, with where it stands."""
    found: dict[str, set[str]] = {}

    def note(text: str, place: str) -> None:
        if any(one.isalpha() for one in _literal(text)):
            found.setdefault(text, set()).add(place)

    files: list[tuple[str, object]] = [
        *((f"shared/procedures/{key}.yaml", one) for key, one in book.procedures.items()),
        *(("shared/gates.yaml", one) for one in book.gates.values()),
        *(("shared/layouts.yaml", one) for one in (*book.layouts.values(), *book.facts.values())),
    ]
    for place, one in files:
        for text in _file_texts(one):
            note(text, place)
    for text in COMPOSED:
        note(text, "app/domain/wording.py")
    return found


def _literal(text: str) -> str:
    """A text without its blanks."""
    return "".join(part.partition("}")[2] if place else part for place, part in enumerate(text.split("{")))


def _file_texts(value: object, name: str = "") -> Iterator[str]:
    if isinstance(value, FileText):
        for key in type(value).model_fields:
            yield from _file_texts(getattr(value, key), key)
    elif isinstance(value, Mapping):
        # Choices of facts and options are texts by key.
        for key, one in value.items():
            yield from _file_texts(one, "words" if name == "choices" else str(key))
    elif isinstance(value, tuple):
        for one in value:
            yield from _file_texts(one, name)
    elif isinstance(value, str) and name in _FILE_TEXTS and value:
        yield value


def packet_in(packet: Packet, say: Say) -> Packet:
    """The packet with its texts as `say` has them, to be shown. It keeps the hash of what was pinned."""
    made = packet_from(_said(packet.as_json(), "", say))
    made.__dict__["hash"] = packet.hash
    return made


def packet_texts(packet: Packet, say: Say) -> dict[str, str]:
    """The packet's texts that are other ones in the language of `say`, by the English: what a tablet says them by."""
    said: dict[str, str] = {}

    def note(text: str) -> str:
        words = say(text)
        if words != text:
            said[text] = words
        return words

    _said(packet.as_json(), "", note)
    return dict(sorted(said.items()))


def _said(value: Any, name: str, say: Say) -> Any:
    if isinstance(value, str):
        return say(value) if name in PACKET_TEXTS else value
    if isinstance(value, dict):
        return {key: _said(one, key, say) for key, one in value.items()}
    return [_said(one, name, say) for one in value] if isinstance(value, list) else value


def book_in(book: Book, say: Say) -> Book:
    """The book with its texts as `say` has them, to be shown; keys and conditions are the same."""
    return replace(
        book,
        procedures={key: _model_in(one, say) for key, one in book.procedures.items()},
        gates={key: _model_in(one, say) for key, one in book.gates.items()},
        layouts={key: _model_in(one, say) for key, one in book.layouts.items()},
        facts={key: _model_in(one, say) for key, one in book.facts.items()},
    )


Model = TypeVar("Model", bound=FileText)


def _model_in(model: Model, say: Say) -> Model:
    changed = {key: _value_in(getattr(model, key), key, say) for key in type(model).model_fields}
    return model.model_copy(update=changed)


def _value_in(value: Any, name: str, say: Say) -> Any:
    if isinstance(value, FileText):
        return _model_in(value, say)
    if isinstance(value, dict):
        return {key: _value_in(one, "words" if name == "choices" else str(key), say) for key, one in value.items()}
    if isinstance(value, tuple):
        return tuple(_value_in(one, name, say) for one in value)
    return say(value) if isinstance(value, str) and name in _FILE_TEXTS else value
