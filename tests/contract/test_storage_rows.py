"""Whatever an entry holds, its row is read back equal, on every store."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.domain.canonical import canonical
from app.domain.entry import Basis, Entry, Heard, Kind, entry_json
from app.ports import LedgerRow, Store
from app.storage import migrate
from app.storage.engine import make_engine
from app.storage.memory import MemoryStore
from app.storage.sql import SqlStore

# Lone surrogates, NUL and whole numbers beyond 64 bits have no place in a column; in the raw text JSON can hold them.
words = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=40)
long = st.integers(-(2**63), 2**63 - 1)
plain = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)
revision = st.none() | st.integers(0, 1_000)
entries = st.builds(
    Entry,
    v=st.integers(0, 9),
    id=words,
    tablet=words,
    seq=long,
    job=words,
    kind=st.sampled_from([str(kind) for kind in Kind]) | words,
    body=st.dictionaries(st.text(max_size=12), plain, max_size=4),
    person=words,
    noted_at_ms=st.integers(),
    basis=st.builds(Basis, packet=words, step_revision=revision, support_revision=revision, gate_revision=revision),
    clock_offset_ms=st.integers(),
    bundle=words,
)
details = st.dictionaries(words, words | st.integers(), max_size=4)
junk = words | plain.map(json.dumps)


@pytest.fixture(scope="module", params=["memory", "sqlite", "postgresql"])
def store(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    if request.param == "memory":
        yield MemoryStore()
        return
    if request.param == "postgresql":
        make: Callable[[], str] = request.getfixturevalue("fresh_postgresql")
        url = make()
    else:
        folder: Path = tmp_path_factory.mktemp("rows")
        url = f"sqlite:///{folder / 'rows.db'}"
    migrate.upgrade(url)
    engine = make_engine(url)
    yield SqlStore(engine)
    engine.dispose()


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    entry=entries,
    heard_at_ms=long,
    name=words,
    roles=st.lists(words, max_size=3).map(tuple),
    accepted=st.booleans(),
    reason=words,
    details=details,
    spaces=st.sampled_from([None, 2]),
)
def test_a_row_of_any_entry_is_read_back_equal(
    store: Store,
    entry: Entry,
    heard_at_ms: int,
    name: str,
    roles: tuple[str, ...],
    accepted: bool,
    reason: str,
    details: dict[str, str | int],
    spaces: int | None,
) -> None:
    raw = json.dumps(entry_json(entry), indent=spaces)
    with store.writing() as unit:
        order, previous = unit.ledger.next_order()
        heard = Heard(entry, order, heard_at_ms, name, roles)
        row = LedgerRow(heard, raw, accepted, reason, details, previous, f"hash {order}")
        unit.ledger.append(row)
        # Left without commit: the next example may draw the same id again.
        assert unit.ledger.find(entry.id) == row
        assert list(unit.ledger.of_job(entry.job)) == [row]
        assert list(unit.ledger.walk(after=order - 1)) == [row]
        assert canonical(entry_json(unit.ledger.walk()[0].heard.entry)) == canonical(entry_json(entry))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(raw=junk)
def test_any_text_at_all_is_kept_as_it_came(store: Store, raw: str) -> None:
    entry = Entry(1, "entry-1", "tablet-1", 1, "job-1", "unheard_of", {}, "person-1", 0)
    with store.writing() as unit:
        order, previous = unit.ledger.next_order()
        unit.ledger.append(LedgerRow(Heard(entry, order, 0, "", ()), raw, False, "unknown_form", {}, previous, "h"))
        kept = unit.ledger.find("entry-1")
        assert kept is not None
        assert kept.raw == raw
        assert (kept.heard.entry.id, kept.heard.entry.kind) == ("entry-1", "unheard_of")
