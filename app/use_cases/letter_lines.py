"""A letter's facts as lines under the headings they stand under, so that two editions can be compared.

It reads the kept facts (JSON), not the records, because an older edition's are all there is of it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from app.language.speech import N_, _

_PARTS: tuple[tuple[str, str], ...] = (
    (N_("Whom it is for"), "who"),
    (N_("What you asked"), "asked"),
    (N_("What we found"), "found"),
    (N_("What we did"), "work"),
    (N_("How tight"), "torques"),
    (N_("What we measured"), "measures"),
    (N_("Before and after"), "compared"),
    (N_("New parts"), "parts"),
    (N_("What to watch"), "watch"),
    (N_("Price as agreed"), "bill"),
    (N_("Photos"), "photos"),
    (N_("Notes"), "notes"),
    (N_("Who"), "people"),
)


def lines_by_part(written: str) -> dict[str, tuple[str, ...]]:
    """Every line of a letter by its heading; names and times of who entered it stay with their line."""
    facts = json.loads(written)
    told = {name: tuple(one for one in _READERS[name](facts) if one) for _, name in _PARTS}
    own = {"asked": N_("Why we asked you to come")} if facts.get("called_in") else {}
    return {_(own.get(name, part)): told[name] for part, name in _PARTS if told[name]}


def _who(facts: Any) -> Iterator[str]:
    yield facts["customer_name"]
    yield ", ".join(filter(None, (facts["plate"], facts["vehicle"])))
    yield ", ".join(filter(None, (facts["shop_name"], *facts["shop_address"])))
    yield from (facts["shop_phone"], facts["shop_email"])


def _asked(facts: Any) -> Iterator[str]:
    yield from facts["complaint"]
    # Letters kept before there were questions have none.
    yield from (_joined(one["question"], one["answer"], one["words"]) for one in facts.get("answers", ()))
    yield facts["odometer"]


def _found(facts: Any) -> Iterator[str]:
    for one in (*facts["findings"], *facts["sound"]):
        yield _told_line(one)
    for waiting in facts.get("not_told_apart", ()):
        yield _("Seen, and not told apart yet: {told}", told=_told_line(waiting["finding"]))


def _told_line(one: Any) -> str:
    return _joined(_(one["verdict"]), one["part"], one["seen"], one["reason"], _by(one["by"]))


def _work(facts: Any) -> Iterator[str]:
    for line in facts["work"]:
        for step in line["steps"]:
            looked = (
                _("looked at by {by} {seen}", by=_by(step["looked_by"]), seen=step["looked"])
                if step["looked_by"]
                else ""
            )
            yield _joined(line["title"], step["title"], _by(step["by"]), looked)


def _torques(facts: Any) -> Iterator[str]:
    for line in facts["torques"]:
        for one in line["torques"]:
            read = [one["reading"], *([one["second"]] if one["second"] else [])]
            readings = "; ".join(f"{each['typed']}, {each['wrench']}, {_by(each['by'])}" for each in read)
            yield _joined(line["title"], one["place"], one["figure"], readings)


def _measures(facts: Any) -> Iterator[str]:
    for line in facts["measures"]:
        for one in line["measures"]:
            judged = f"{_(one['judged'])} {one['window']}" if one["judged"] else ""
            yield _joined(line["title"], one["step"], one["what"], one["typed"], judged, _by(one["by"]))


def _compared(facts: Any) -> Iterator[str]:
    for group in facts["compared"]:
        for row in group["rows"]:
            yield _joined(group["axle"], row["what"], row["before"] or "–", row["after"] or "–")
    for one in facts.get("shims", ()):
        yield _joined("Shims", one["place"].replace("_", " "), one["bolt"], one["before"], one["after"])
    for one in facts["said_twice"]:
        yield _joined(one["what"], one["before"] or "–", one["after"] or "–")


def _parts(facts: Any) -> Iterator[str]:
    yield from (f"{one['what']} ({one['line']})" for one in facts["parts"])


def _watch(facts: Any) -> Iterator[str]:
    yield from facts["watch"]
    if facts["retorque_km"]:
        yield _("Wheels again after {km} km", km=facts["retorque_km"])
    if facts["comes_at"]:
        yield _("Appointment for the wheels: {comes_at}", comes_at=facts["comes_at"])


def _bill(facts: Any) -> Iterator[str]:
    bill = facts["bill"]
    if not bill:
        return
    for line in bill["lines"]:
        yield f"{line['title']}: {line['total']}"
        for row in line["rows"]:
            yield _joined(line["title"], row["what"], row["detail"], row["amount"])
    yield _("Total: {total}", total=bill["total"])
    yield from bill["agreed"]
    yield from (_("{title}: not charged", title=title) for title in (*bill["not_done"], *bill["not_agreed"]))
    yield (
        _("Registration of the workshop: {registration}", registration=bill["registration"])
        if bill["registration"]
        else ""
    )


def _photos(facts: Any) -> Iterator[str]:
    for one in facts["photos"]:
        yield _joined(_("Photo"), one["title"], one["words"], _by(one["by"]))


def _notes(facts: Any) -> Iterator[str]:
    yield from facts["handed_back_note"]
    for note in facts["notes"]:
        yield f"{' '.join(note['lines'])} ({_by(note['by'])})"


def _people(facts: Any) -> Iterator[str]:
    yield _("Did the work: {names}", names=", ".join(facts["worked"])) if facts["worked"] else ""
    yield _("Checked it: {names}", names=", ".join(facts["checked"])) if facts["checked"] else ""
    yield from (_("Not closed: {point}", point=one) for one in facts["still_open"])


_READERS = {
    "who": _who, "asked": _asked, "found": _found, "work": _work, "torques": _torques, "measures": _measures,
    "compared": _compared, "parts": _parts, "watch": _watch, "bill": _bill, "photos": _photos, "notes": _notes,
    "people": _people,
}  # fmt: skip


def _joined(*words: str) -> str:
    return ", ".join(one for one in words if one)


def _by(deed: Any) -> str:
    return f"{deed['who']}, {deed['when']}"
