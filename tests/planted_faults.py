"""Faults planted on purpose, to see which of them the state machine of several tablets finds.

`python -m tests.planted_faults [WORD]` plants each whose name has the word, runs made-up days until one fails, and
prints what was found; DEVELOPERS.md keeps the list. Each fault is a piece of text for another in a script or a module.
"""

from __future__ import annotations

import importlib
import sys
import time
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import partial
from types import FunctionType, ModuleType
from typing import Any

from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.contract.test_tablet_machine import Day
from tests.js_engine import ROOT, TABLET

DAYS, STEPS = 25, 30


@dataclass(frozen=True)
class Planted:
    """`texts`: file -> what stands there, and what is put in its place. Scripts by name, modules by path."""

    name: str
    texts: tuple[tuple[str, str, str], ...]


def one(name: str, file: str, old: str, new: str) -> Planted:
    return Planted(name, ((file, old, new),))


PLANTED = (
    # The pocket.
    one("deleted when it is sent, before the ruling", "pocket.js",
        'waiting: (limit) => read(["entries"], async (at) =>\n'
        '      (await asked(at("entries").getAll())).filter((/** @type {Row} */ one) => one.office === null)'
        '.slice(0, limit)),',
        'waiting: (limit) => write(["entries"], async (at) => {\n'
        '      const rows = (await asked(at("entries").getAll())).filter((one) => !one.office).slice(0, limit);\n'
        '      for (const row of rows) await asked(at("entries").delete(row.seq));\n'
        '      return rows; }),'),
    one("let go when it is ruled on, before the sheet has come", "pocket.js",
        "const isHeld = isRuled(row) && row.office.order <= (through.get(row.job) ?? Infinity);",
        "const isHeld = isRuled(row);"),
    one("deleted when it is ruled on", "pocket.js",
        'await asked(at("entries").put({ ...row, office }));\n          found.add',
        'await asked(at("entries").delete(row.seq));\n          found.add'),
    Planted("the sheet replaced before its entries are let go, in two writes, and nobody looks", (
        ("pocket.js", "        await letGo(at);\n", ""),
        ("pocket.js", "      tell([...Object.keys(answer.jobs), ...answer.gone], false);",
         '      await write(["jobs", "entries"], letGo);\n      tell(Object.keys(answer.jobs), false);'),
        ("sheet_now.js", "if (office !== null && office.order <= now.through) continue;", ""))),
    one("the sheet and what is let go in two writes", "pocket.js",
        "        await letGo(at);\n", "        Promise.resolve().then(() => write([\"jobs\", \"entries\"], letGo));\n"),
    one("numbers out of memory", "pocket.js",
        "let seq = last ? last.value : 0;\n        /** @type {Map",
        "let seq = db.memory ?? (last ? last.value : 0);\n"
        "        db.memory = seq + entries.length;\n        /** @type {Map"),
    one("the last number is not kept", "pocket.js",
        'at("meta").put({ key: "seq", value: seq });\n        return entries', "return entries"),
    one("saved is said before the write is complete", "pocket.js", "await over;\n", "\n"),
    one("what the office could not take because of a gap is kept apart", "pocket.js",
        'if (!one.kept && one.problem === "seq_gap") continue;', ""),
    one("the number the office wants takes the place of the tablet's own", "pocket.js",
        "seq: Math.max(seq ? seq.value : 0, answer.next_seq - 1),", "seq: answer.next_seq - 1,"),
    one("a tablet set back goes on with old numbers", "pocket.js",
        "seq: Math.max(seq ? seq.value : 0, answer.next_seq - 1),", "seq: seq ? seq.value : 0,"),
    one("who signs out takes the queue along", "pocket.js",
        'signOut: () => keepMeta("me", null),',
        'signOut: async () => { await write(["entries"], (at) => asked(at("entries").clear()));'
        ' return keepMeta("me", null); },'),
    one("a second tap is another entry", "pocket.js",
        "if (before[place] || made.has(entry.id)) continue;",
        "if (before[place]) { before[place] = null; entry.id = entry.id.slice(0, -3) + (100 + seq); }"),
    # The sender and the sheet.
    one("no strict order", "sender.js",
        "const rows = await pocket.waiting(most);", "const rows = (await pocket.waiting(most)).reverse();"),
    one("made anew at each sending", "sender.js",
        "const texts = rows.map((/** @type {{text: string}} */ row) => row.text);",
        'const texts = rows.map((row) => row.text.replace(/"bundle":"[^"]*"/, \'"bundle":"now"\'));'),
    one("an answer that did not come is taken for one", "sender.js",
        'return ["silent", null];\n  }',
        'return path === "/sync/entries" ? ["answered", { answers: JSON.parse(body).entries.map(({ id }) =>'
        ' ({ id, kept: true, order: 1, accepted: true, reason: "", details: {}, words: "" })) }]'
        ' : ["silent", null];\n  }'),
    one("two pages send at once", "sender.js",
        'locks.request("cotterpin-sender", async () => {', '(async (_, work) => work())("", async () => {'),
    one("a page that lost its pocket goes on holding the lock", "sender.js",
        "if (outcome === null) return;", 'if (outcome === null) { await rest(LONGEST_MS); continue; }'),
    one("an entry in the sheet already is replayed over it again", "sheet_now.js",
        "if (office !== null && office.order <= now.through) continue;", ""),
    one("the office's ruling is not heeded", "sheet_now.js",
        "const ruling = office ?? rules.decide(sheet, heard);", "const ruling = rules.decide(sheet, heard);"),
    one("what was seen is written down as it is now, not as it was shown", "make_entry.js",
        'packet: NAME.test(packet) ? packet : "",', "packet: sent.sheet.editions.at(-1),"),
    # The office.
    one("answered before it is committed", "app/use_cases/hear_tablet.py",
        "        unit.tablets.save(replace(tablet, seen_at=office.clock()))\n        unit.commit()",
        "        unit.tablets.save(replace(tablet, seen_at=office.clock()))"),
    one("an entry heard before is heard again", "app/use_cases/hear_tablet.py",
        "is_new = unit.ledger.find(entry.id) is None", "is_new = True"),
    one("entries beyond a gap are taken", "app/use_cases/hear_tablet.py",
        "if is_new and entry.seq > following:", "if False:"),
    one("a number used already is not given anew", "app/use_cases/hear_tablet.py",
        "    if is_new:\n        entry, text = _under_its_own_number(tablet, entry, text)\n", ""),
    one("the sheet is stored only when something counts", "app/use_cases/record_entry.py",
        "    unit.sheets.put(after)\n", "    if ruling.accepted:\n        unit.sheets.put(after)\n"),
    one("the ledger's last order is sent for the sheet's", "app/use_cases/contact_tablet.py",
        "marks[job.id].order, about", "unit.ledger.head()[0], about"),
    one("a sheet is sent again only when its packet changed", "app/use_cases/contact_tablet.py",
        "about_hash = _hash([*heads[job.id],", "about_hash = _hash([heads[job.id][1],"),
    one("a loss is not told", "app/use_cases/contact_tablet.py",
        "            raise_lack(office, unit, before, lack)\n", "            pass\n"),
    one("a contact that comes late is taken for a loss", "app/domain/debt.py",
        "return said.number <= tablet.contacts", "return False"),
    one("a tablet that has counted less goes on as if it were late", "sender.js",
        "if (counted !== null && told.contacts > counted.number) {", "if (false) {"),
    one("that it went back is not said", "pocket.js",
        "went_back: number < heard ? heard : went_back", "went_back"),
    one("entries of a tablet set back are taken before it is asked", "app/use_cases/hear_tablet.py",
        "if number is not None and is_from_before(tablet, number, went_back):", "if False:"),
    one("what a tablet keeps from is taken for what it has lost", "app/domain/debt.py",
        "gone_to = min(said.oldest - 1, said.seq) if said.oldest else said.seq", "gone_to = said.seq"),
    # Gates, wrong at both ends alike: only who looks at the ledger itself can tell.
    Planted("answers that were set aside open a gate", (
        ("rules.js", "if (!ruling.accepted)",
         'if (!ruling.accepted && (heard.entry.kind !== "gate_answered" || ruling.reason !== "held"))'),
        ("app/domain/rules.py", "if not ruling.accepted:",
         'if not ruling.accepted and (heard.entry.kind != "gate_answered" or ruling.reason != "held"):'))),
    Planted("answers do not grow old", (
        ("standing.js", "gate.stale_after_s * 1000;", "gate.stale_after_s * 1e9;"),
        ("app/domain/standing.py", "return None if 0 <= at_ms - now.began_at_ms <= gate.stale_after_s * 1_000 else",
         "return None if True else"))),
    Planted("another person's answers open a gate", (
        ("standing.js", "person !== null && now.person !== person", "false"),
        ("app/domain/standing.py", "(person is not None and now.person != person)", "False"))),
    Planted("a gate stays open when the vehicle is held another way", (
        ("standing.js", ') return "support";', ") {}"),
        ("app/domain/standing.py", '        return "support"\n', "        pass\n"))),
    Planted("a gate that changed keeps its answers", (
        ("changes.js", "gates: Object.fromEntries(Object.entries(one.sheet.gates).filter(([key]) => same.has(key))),",
         "gates: one.sheet.gates,"),
        ("app/domain/changes.py", "gates={key: now for key, now in case.sheet.gates.items() if key in same_gates},",
         "gates={key: now for key, now in case.sheet.gates.items() if key in packet.gate_by_id},"))),
)  # fmt: skip


@contextmanager
def planted(fault: Planted) -> Iterator[dict[str, str]]:
    """The fault in place; gives the scripts that are changed."""
    scripts: dict[str, str] = {}
    with ExitStack() as stack:
        for file, old, new in fault.texts:
            path = TABLET / file if file.endswith(".js") else ROOT / file
            text = scripts.get(file) or path.read_text("utf-8")
            assert text.count(old) >= 1, f"{file} has no {old!r}"
            if file.endswith(".js"):
                scripts[file] = text.replace(old, new)
            else:
                name = file.removesuffix(".py").replace("/", ".")
                stack.enter_context(_in_module(importlib.import_module(name), text.replace(old, new)))
        yield scripts


@contextmanager
def _in_module(module: ModuleType, text: str) -> Iterator[None]:
    """The module's functions do what this text says, whoever has them already."""
    apart = dict(module.__dict__)
    exec(compile(text, module.__file__ or "", "exec"), apart)
    before = {}
    for known, made in _functions(module.__dict__, apart, module.__name__):
        before[known] = known.__code__
        known.__code__ = made.__code__
    try:
        yield
    finally:
        for known, code in before.items():
            known.__code__ = code


def _functions(
    old: Mapping[str, Any], new: Mapping[str, Any], module: str
) -> Iterator[tuple[FunctionType, FunctionType]]:
    """The functions and methods of a module, as they are and as they are made anew."""
    for name, known in list(old.items()):
        made = new.get(name)
        if isinstance(known, type) and known.__module__ == module:
            yield from _functions(vars(known), vars(made), module)
        elif isinstance(known, FunctionType) and isinstance(made, FunctionType) and known.__module__ == module:
            assert known.__code__.co_freevars == made.__code__.co_freevars
            yield known, made


def found(fault: Planted) -> tuple[str, Counter[str]]:
    """The first complaint, empty for none, and what was counted until then."""
    with planted(fault) as scripts:
        day: type[Day] = type("PlantedDay", (Day,), {"changed": scripts, "counted": Counter()})
        often = settings(
            max_examples=DAYS, stateful_step_count=STEPS, deadline=None, database=None, phases=[Phase.generate],
            suppress_health_check=list(HealthCheck), print_blob=False, report_multiple_bugs=False,
        )  # fmt: skip
        try:
            run_state_machine_as_test(day, settings=often, _min_steps=0)
        except Exception as error:
            return (str(error).strip().splitlines() or [type(error).__name__])[0], day.counted
        return "", day.counted


def main(word: str = "") -> None:
    say = partial(print, flush=True)
    for fault in PLANTED:
        if word in fault.name:
            began = time.monotonic()
            words, counted = found(fault)
            say(f"{'found' if words else 'MISSED'}\t{fault.name}\t{counted['days']} days, {counted['steps']} steps, "
                f"{time.monotonic() - began:.0f} s\t{words[:150]}")  # fmt: skip


if __name__ == "__main__":
    main(*sys.argv[1:])
