"""Whatever an entry holds, its row is read back equal, on every store."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.domain.canonical import LARGEST_WHOLE
from app.domain.entry import Basis, Entry, Heard, Kind, entry_json
from app.ports import LedgerRow, Store
from app.storage import migrate
from app.storage.engine import make_engine
from app.storage.memory import MemoryStore
from app.storage.sql import SqlStore

# Lone surrogates and NUL have no place in a column; in the raw text JSON can hold them.
words = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=40)
names = st.from_regex(r"[!-~]{1,100}", fullmatch=True)
names_or_none = st.just("") | names
whole = st.integers(-LARGEST_WHOLE, LARGEST_WHOLE)
plain = st.recursive(
    st.none() | st.booleans() | whole | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)
revision = st.none() | whole
entries = st.builds(
    Entry,
    v=whole,
    id=names,
    tablet=names,
    seq=whole,
    job=names,
    kind=st.sampled_from([str(kind) for kind in Kind]) | names,
    body=st.dictionaries(st.text(max_size=12), plain, max_size=4),
    person=names,
    noted_at_ms=whole,
    basis=st.builds(
        Basis,
        packet=names_or_none,
        step_revision=revision,
        support_revision=revision,
        gate_revision=revision,
        holds=st.none() | st.lists(names, max_size=3).map(tuple),
    ),
    clock_offset_ms=whole,
    bundle=names_or_none,
)
details = st.dictionaries(words, words | whole, max_size=4)
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
    heard_at_ms=whole,
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
