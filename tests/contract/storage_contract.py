"""What every store promises, written once. `test_storage_contract` says which stores to try."""

from __future__ import annotations

import dataclasses
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date, datetime, timedelta
from enum import Enum
from typing import Any

import pytest

from app.domain import records as r
from app.domain.canonical import canonical
from app.domain.entry import Basis
from app.domain.problems import AlreadyThere, NotFound, OursToMend
from app.domain.sheet import Sheet
from app.domain.uses import Use
from app.ports import Ledger, LedgerMark, LedgerRow, Store, Unit
from tests.contract.storage_examples import (
    ADDED,
    ADDED_REFERENCES,
    ADDED_UNIQUE,
    EXAMPLES,
    NOON,
    REFERENCES,
    UNIQUE,
    a_packet,
    a_row,
    a_sheet,
    an_entry,
)

ONLY_ADDED = pytest.mark.parametrize("name", ADDED)
ALL = pytest.mark.parametrize("name", EXAMPLES)
PLAIN = (str, int, bool, date, datetime, Enum, type(None))


class StorageContract:
    """Subclasses give `store`, and `other`: a second store on the same data (as another process has it)."""

    # Registers

    @ALL
    def test_what_was_added_is_read_back_equal(self, store: Store, name: str) -> None:
        with store.writing() as unit:
            add_examples(unit)
            unit.commit()

        with store.reading() as unit:
            first, second = EXAMPLES[name]
            assert register(unit, name).get(first.id) == first
            assert register(unit, name).get(second.id) == second
            assert list(register(unit, name).all()) == [first, second]

    @ALL
    def test_what_is_not_there_is_none(self, store: Store, name: str) -> None:
        with store.reading() as unit:
            assert register(unit, name).get("nobody") is None
            assert list(register(unit, name).all()) == []

    @ALL
    def test_saving_replaces_every_field_and_keeps_the_place(self, store: Store, name: str) -> None:
        first, second = EXAMPLES[name]
        with store.writing() as unit:
            add_examples(unit)
            parked = {field: f"parked {getattr(second, field)}" for field in free_unique(name)}
            register(unit, name).save(replace(second, **parked))
            changed = replace(second, id=first.id)
            register(unit, name).save(changed)
            unit.commit()

        with store.reading() as unit:
            assert list(register(unit, name).all()) == [changed, replace(second, **parked)]

    @ALL
    def test_saving_what_is_not_there_is_refused(self, store: Store, name: str) -> None:
        with store.writing() as unit:
            add_examples(unit)
            with pytest.raises(NotFound):
                register(unit, name).save(replace(EXAMPLES[name][0], id="nobody"))
            assert len(register(unit, name).all()) == 2

    @ALL
    def test_the_same_id_twice_is_refused(self, store: Store, name: str) -> None:
        first, second = EXAMPLES[name]
        with store.writing() as unit:
            add_examples(unit)
            with pytest.raises(AlreadyThere) as refused:
                register(unit, name).add(replace(second, id=first.id))
            unit.commit()

        assert refused.value.key == first.id
        with store.reading() as unit:
            assert list(register(unit, name).all()) == [first, second]

    # Registers that are only ever added to

    @ONLY_ADDED
    def test_what_is_only_added_to_is_read_back_equal_and_has_no_way_to_be_saved(self, store: Store, name: str) -> None:
        first, second = ADDED[name]
        with store.writing() as unit:
            add_examples(unit)
            for one in (first, second):
                register(unit, name).add(one)
            unit.commit()

        with store.reading() as unit:
            assert register(unit, name).get(first.id) == first
            assert list(register(unit, name).all()) == [first, second]
            assert register(unit, name).get("nobody") is None
            assert not hasattr(register(unit, name), "save")

    @ONLY_ADDED
    def test_what_was_added_once_is_not_replaced_by_adding_it_again(self, store: Store, name: str) -> None:
        first, second = ADDED[name]
        taken = [replace(second, id=first.id)]
        if ADDED_UNIQUE[name]:
            taken.append(replace(second, id="third", **{field: getattr(first, field) for field in ADDED_UNIQUE[name]}))
        with store.writing() as unit:
            add_examples(unit)
            register(unit, name).add(first)
            for one in taken:
                with pytest.raises(AlreadyThere):
                    register(unit, name).add(one)
            unit.commit()

        with store.reading() as unit:
            assert list(register(unit, name).all()) == [first]

    @pytest.mark.parametrize(("name", "field"), ADDED_REFERENCES)
    def test_what_is_only_added_to_cannot_name_what_is_not_there(self, store: Store, name: str, field: str) -> None:
        with store.writing() as unit:
            add_examples(unit)
            with pytest.raises(NotFound) as adding:
                register(unit, name).add(replace(ADDED[name][0], **{field: "nobody"}))
            assert adding.value.key == "nobody"

    def test_estimates_and_answers_are_found_by_their_job(self, store: Store) -> None:
        with store.writing() as unit:
            add_examples(unit)
            for name in ("estimates", "answers"):
                for one in ADDED[name]:
                    register(unit, name).add(one)
            assert [one.edition for one in unit.estimates.where(job="job-1")] == [1, 2]
            assert [one.id for one in unit.answers.where(job="job-1", edition=2)] == ["answer-2"]
            assert list(unit.estimates.where(job="job-2")) == []

    @pytest.mark.parametrize("name", UNIQUE)
    def test_a_taken_value_is_refused_when_adding_and_the_unit_goes_on(self, store: Store, name: str) -> None:
        first, second = EXAMPLES[name]
        clash = replace(second, id="third", **{field: getattr(first, field) for field in UNIQUE[name]})
        with store.writing() as unit:
            add_examples(unit)
            with pytest.raises(AlreadyThere):
                register(unit, name).add(clash)
            unit.commit()

        with store.reading() as unit:
            assert list(register(unit, name).all()) == [first, second]

    @pytest.mark.parametrize("name", UNIQUE)
    def test_a_taken_value_is_refused_when_saving_and_the_unit_goes_on(self, store: Store, name: str) -> None:
        first, second = EXAMPLES[name]
        with store.writing() as unit:
            add_examples(unit)
            with pytest.raises(AlreadyThere):
                register(unit, name).save(replace(second, **{f: getattr(first, f) for f in UNIQUE[name]}))
            unit.commit()

        with store.reading() as unit:
            assert list(register(unit, name).all()) == [first, second]

    @pytest.mark.parametrize("name", UNIQUE)
    def test_saving_its_own_unique_value_again_is_no_clash(self, store: Store, name: str) -> None:
        with store.writing() as unit:
            add_examples(unit)
            register(unit, name).save(EXAMPLES[name][0])
            assert register(unit, name).get(EXAMPLES[name][0].id) == EXAMPLES[name][0]

    def test_a_group_that_differs_in_one_field_is_no_clash(self, store: Store) -> None:
        """A figure's correction is a new edition of the same place."""
        with store.writing() as unit:
            add_examples(unit)
            unit.figures.add(replace(EXAMPLES["figures"][0], id="figure-3", edition=2))
            assert len(unit.figures.all()) == 3

    def test_many_are_added_at_once_in_their_order(self, store: Store) -> None:
        first = EXAMPLES["figures"][0]
        many = [replace(first, id=f"figure-{number}", edition=number) for number in range(10, 40)]
        with store.writing() as unit:
            add_examples(unit)
            unit.figures.add_all(many)
            unit.figures.add_all([])
            unit.commit()

        with store.reading() as unit:
            assert list(unit.figures.all())[2:] == many

    @pytest.mark.parametrize(
        "changes",
        [{"id": "figure-1"}, {"edition": 1}, {"edition": 11}, {"typed_by": "nobody"}],
    )
    def test_of_many_none_is_kept_when_one_cannot_be(self, store: Store, changes: dict[str, Any]) -> None:
        """A taken id, a taken edition, the same edition twice among them, a person who is not there."""
        first = EXAMPLES["figures"][0]
        many = [
            replace(first, id="figure-11", edition=11),
            replace(first, **{"id": "figure-12", "edition": 12} | changes),
        ]
        with store.writing() as unit:
            add_examples(unit)
            with pytest.raises((AlreadyThere, NotFound)):
                unit.figures.add_all(many)

        with store.reading() as unit:
            assert list(unit.figures.all()) == []

    def test_many_are_saved_at_once_and_one_that_is_not_there_is_named(self, store: Store) -> None:
        first, second = EXAMPLES["figures"]
        changed = [replace(first, text="x"), replace(second, text="y")]
        with store.writing() as unit:
            add_examples(unit)
            unit.figures.save_all(changed)
            unit.figures.save_all([])
            unit.commit()
        with store.writing() as unit:
            with pytest.raises(NotFound) as missing:
                unit.figures.save_all([first, replace(second, id="nobody")])
            assert missing.value.key == "nobody"
        with store.writing() as unit, pytest.raises(NotFound):
            unit.figures.save_all([replace(first, typed_by="nobody")])
        with store.writing() as unit, pytest.raises(AlreadyThere):
            unit.figures.save_all([replace(second, **{field: getattr(first, field) for field in UNIQUE["figures"]})])

        with store.reading() as unit:
            assert list(unit.figures.all()) == changed

    @pytest.mark.parametrize("changes", [{"compared_by": None}, {"withdrawn": True}, {"replaced": True}])
    def test_the_books_mark_tells_every_change_and_nothing_else(self, store: Store, changes: dict[str, Any]) -> None:
        first = EXAMPLES["figures"][0]
        with store.writing() as unit:
            add_examples(unit)
            before = unit.book_mark()
            unit.figures.save(first)
            assert unit.book_mark() == before
            unit.figures.save(replace(first, **changes))
            assert unit.book_mark() != before
            unit.figures.save(first)
            assert unit.book_mark() == before
            unit.figures.add(replace(first, id="figure-3", edition=2))
            assert unit.book_mark() != before

    def test_plates_are_the_same_however_they_are_written(self, store: Store) -> None:
        """Folded by Unicode's rules: Straße and STRASSE are one."""
        second = EXAMPLES["vehicles"][1]
        with store.writing() as unit:
            add_examples(unit)
            with pytest.raises(AlreadyThere):
                unit.vehicles.add(replace(second, id="vehicle-3", plate="ab 12 cde"))
            with pytest.raises(AlreadyThere):
                unit.vehicles.add(replace(second, id="vehicle-3", plate=" SS-77 "))
            assert unit.vehicles.get("vehicle-2") == second

    def test_any_number_of_vehicles_may_have_no_plate(self, store: Store) -> None:
        with store.writing() as unit:
            add_examples(unit)
            for number in (3, 4):
                unit.vehicles.add(replace(EXAMPLES["vehicles"][0], id=f"vehicle-{number}", plate=""))
            assert len(unit.vehicles.where(plate="")) == 2

    @pytest.mark.parametrize(("name", "field"), REFERENCES)
    def test_a_record_cannot_name_what_is_not_there(self, store: Store, name: str, field: str) -> None:
        with store.writing() as unit:
            add_examples(unit)
            broken = replace(EXAMPLES[name][0], **{field: "nobody"})
            with pytest.raises(NotFound) as saving:
                register(unit, name).save(broken)
            with pytest.raises(NotFound) as adding:
                register(unit, name).add(replace(broken, id="third"))
            assert (saving.value.key, adding.value.key) == ("nobody", "nobody")

    @ALL
    def test_where_finds_by_every_plain_field(self, store: Store, name: str) -> None:
        with store.writing() as unit:
            add_examples(unit)
            for record in EXAMPLES[name]:
                for field in plain_fields(record):
                    value = getattr(record, field)
                    expected = [other for other in EXAMPLES[name] if getattr(other, field) == value]
                    assert list(register(unit, name).where(**{field: value})) == expected, field

    def test_where_joins_what_it_is_asked(self, store: Store) -> None:
        with store.writing() as unit:
            add_examples(unit)
            assert list(unit.tools.where(kind=r.ToolKind.STANDS, tag="ST-02")) == [EXAMPLES["tools"][1]]
            assert list(unit.tools.where(kind=r.ToolKind.STANDS, tag="TW-07")) == []
            assert list(unit.tools.where()) == list(EXAMPLES["tools"])

    @pytest.mark.parametrize(("name", "field"), [("jobs", "lines"), ("people", "shoe_size"), ("vehicles", "front")])
    def test_where_says_what_it_cannot_be_asked(self, store: Store, name: str, field: str) -> None:
        with store.reading() as unit, pytest.raises(TypeError, match=field):
            register(unit, name).where(**{field: ""})

    def test_a_naive_instant_is_refused(self, store: Store) -> None:
        with store.writing() as unit:
            with pytest.raises(TypeError, match="time zone"):
                unit.tablets.add(r.Tablet("tablet-1", "One", seen_at=datetime(2031, 1, 1)))  # noqa: DTZ001
            assert list(unit.tablets.all()) == []

    def test_instants_come_back_in_utc(self, store: Store) -> None:
        with store.writing() as unit:
            add_examples(unit)
            job = unit.jobs.get("job-1")
            assert job is not None
            assert job.promised_at is not None
            assert job.promised_at.utcoffset() == timedelta(0)

    def test_a_removed_sign_in_is_gone(self, store: Store) -> None:
        first, second = EXAMPLES["sign_ins"]
        with store.writing() as unit:
            add_examples(unit)
            unit.remove_sign_in(first.id)
            unit.remove_sign_in("nobody")
            unit.commit()

        with store.reading() as unit:
            assert list(unit.sign_ins.all()) == [second]

    def test_a_photo_that_no_entry_names_is_removed_from_the_register(self, store: Store) -> None:
        first, second = EXAMPLES["photos"]
        with store.writing() as unit:
            unit.photos.add_all([first, second])
            unit.commit()
        with store.writing() as unit:
            unit.remove_photo_named(first.id)
            unit.remove_photo_named("nobody")
            unit.commit()

        with store.reading() as unit:
            assert list(unit.photos.all()) == [second]

    # Units

    def test_leaving_without_commit_changes_nothing(self, store: Store) -> None:
        with store.writing() as unit:
            fill(unit)
            unit.commit()
        before = everything(store)

        with store.writing() as unit:
            change_everything(unit)

        assert everything(store) == before

    def test_an_error_changes_nothing(self, store: Store) -> None:
        with store.writing() as unit:
            fill(unit)
            unit.commit()
        before = everything(store)

        def fail_at_the_end() -> None:
            with store.writing() as unit:
                change_everything(unit)
                raise ZeroDivisionError

        with pytest.raises(ZeroDivisionError):
            fail_at_the_end()

        assert everything(store) == before

    def test_after_commit_the_change_is_there_and_the_unit_is_over(self, store: Store) -> None:
        with store.writing() as unit:
            unit.tablets.add(r.Tablet("tablet-1", "One"))
            unit.commit()
            with pytest.raises(OursToMend, match="over"):
                unit.tablets.add(r.Tablet("tablet-2", "Two"))
            with pytest.raises(OursToMend, match="over"):
                unit.commit()

        with store.reading() as unit:
            assert [tablet.id for tablet in unit.tablets.all()] == ["tablet-1"]

    def test_a_unit_that_was_left_is_over(self, store: Store) -> None:
        with store.reading() as unit:
            pass
        with pytest.raises(OursToMend, match="over"):
            unit.tablets.all()

    def test_a_reading_unit_cannot_write(self, store: Store) -> None:
        with store.reading() as unit:
            refusals = [
                lambda: unit.tablets.add(r.Tablet("tablet-1", "One")),
                lambda: unit.tablets.save(r.Tablet("tablet-1", "One")),
                lambda: unit.remove_sign_in("a"),
                lambda: unit.remove_photo_named("a"),
                lambda: unit.take_number("jobs"),
                lambda: unit.begin_number("jobs", 1),
                lambda: unit.ledger.next_order(),
                lambda: unit.ledger.append(a_row(an_entry(1), 1, "")),
                lambda: unit.sheets.put(a_sheet(None)),
                lambda: unit.sheets.put_packet(a_packet()),
            ]
            for write in refusals:
                with pytest.raises(OursToMend, match="reading"):
                    write()

    def test_a_reader_keeps_its_view_and_neither_waits_for_the_other(self, store: Store, other: Store) -> None:
        with store.reading() as reader:
            assert list(reader.tablets.all()) == []
            with other.writing() as writer:
                writer.tablets.add(r.Tablet("tablet-1", "One"))
                with store.reading() as early:
                    assert list(early.tablets.all()) == []
                writer.commit()
            assert list(reader.tablets.all()) == []

        with store.reading() as late:
            assert len(late.tablets.all()) == 1

    def test_numbers_count_from_one_without_a_gap(self, store: Store) -> None:
        with store.writing() as unit:
            assert [unit.take_number("jobs"), unit.take_number("jobs"), unit.take_number("bills")] == [1, 2, 1]
            unit.commit()
        with store.writing() as unit:
            assert unit.take_number("jobs") == 3
        with store.writing() as unit:
            assert unit.take_number("jobs") == 3

    def test_a_counter_begins_after_a_given_number_once(self, store: Store) -> None:
        with store.writing() as unit:
            assert unit.numbers() == {}
            unit.begin_number("jobs", 41)
            assert (unit.take_number("jobs"), unit.take_number("bills")) == (42, 1)
            with pytest.raises(AlreadyThere):
                unit.begin_number("jobs", 7)
            unit.commit()
        with store.reading() as unit:
            assert unit.numbers() == {"jobs": 42, "bills": 1}

    def test_packets_are_listed_by_their_hashes(self, store: Store) -> None:
        with store.writing() as unit:
            assert unit.sheets.packet_hashes() == ()
            for edition in (1, 2, 3):
                unit.sheets.put_packet(a_packet(edition))
            unit.commit()
        with store.reading() as unit:
            assert unit.sheets.packet_hashes() == tuple(sorted(a_packet(edition).hash for edition in (1, 2, 3)))

    # Ledger

    def test_a_row_is_read_back_equal_by_id_by_job_and_by_walking(self, store: Store) -> None:
        rows = rows_of([an_entry(1), an_entry(2, job="job-2"), an_entry(3)])
        rows[1] = replace(rows[1], accepted=False, reason="gate_stale", details={"minutes": 70, "gate": "stands"})
        append(store, rows)

        with store.reading() as unit:
            assert [unit.ledger.find(row.heard.entry.id) for row in rows] == rows
            assert unit.ledger.find("nobody") is None
            assert list(unit.ledger.of_job("job-1")) == [rows[0], rows[2]]
            assert list(unit.ledger.of_job("nobody")) == []
            assert list(unit.ledger.walk()) == rows
            assert list(unit.ledger.walk(after=1, limit=1)) == [rows[1]]
            assert list(unit.ledger.walk(after=3)) == []
            assert unit.ledger.count() == 3

    def test_the_first_order_is_one_and_chained_to_nothing(self, store: Store) -> None:
        with store.writing() as unit:
            assert (unit.ledger.head(), unit.ledger.next_order()) == ((0, ""), (1, ""))
            unit.ledger.append(a_row(an_entry(1), 1, ""))
            assert (unit.ledger.head(), unit.ledger.next_order()) == ((1, f"{1:064x}"), (2, f"{1:064x}"))
            unit.commit()

        with store.reading() as unit:
            assert unit.ledger.head() == (1, f"{1:064x}")

    def test_an_entry_with_an_id_or_sequence_that_is_there_is_refused(self, store: Store) -> None:
        (row,) = rows_of([an_entry(1)])
        append(store, [row])

        with store.writing() as unit:
            with pytest.raises(AlreadyThere, match="entry-tablet-1-1"):
                unit.ledger.append(a_row(an_entry(1, tablet="tablet-1"), 2, row.hash))
            with pytest.raises(AlreadyThere, match="tablet-1 1"):
                unit.ledger.append(a_row(an_entry(1, id="another"), 2, row.hash))
            unit.ledger.append(a_row(an_entry(1, tablet="tablet-2"), 2, row.hash))
            unit.commit()

        with store.reading() as unit:
            assert [kept.heard.entry.tablet for kept in unit.ledger.walk()] == ["tablet-1", "tablet-2"]

    @pytest.mark.parametrize(("order", "previous"), [(3, f"{1:064x}"), (1, f"{1:064x}"), (2, ""), (2, "f" * 64)])
    def test_a_row_that_is_not_the_next_one_is_refused(self, store: Store, order: int, previous: str) -> None:
        append(store, rows_of([an_entry(1)]))

        with store.writing() as unit:
            with pytest.raises(OursToMend, match="next row is 2"):
                unit.ledger.append(a_row(an_entry(2), order, previous))
            assert unit.ledger.count() == 1

    def test_an_order_given_up_is_given_again(self, store: Store) -> None:
        with store.writing() as unit:
            unit.ledger.append(a_row(an_entry(1), *unit.ledger.next_order()))

        with store.writing() as unit:
            assert unit.ledger.next_order() == (1, "")

    @pytest.mark.parametrize(
        "raw",
        [
            "not JSON at all \u2192 {",
            '["a", "list"]',
            '{"v": 9, "body": {"grip": 1.5}, "basis": "new style", "bundle": 7, "noted_at_ms": "late"}',
            '  {"v":1,"id":"another entry"}  ',
            "",
        ],
    )
    def test_an_entry_in_an_unknown_form_is_kept_as_it_came(self, store: Store, raw: str) -> None:
        (row,) = rows_of([an_entry(1, kind="winch_used", tablet="tablet-9")])
        append(store, [replace(row, raw=raw, accepted=False, reason="unknown_form")])

        with store.reading() as unit:
            kept = unit.ledger.find("entry-tablet-9-1")
        assert kept is not None
        assert kept.raw == raw
        entry = kept.heard.entry
        assert (entry.tablet, entry.seq, entry.job, entry.kind) == ("tablet-9", 1, "job-1", "winch_used")
        assert entry.person == "person-1"

    def test_what_can_be_read_of_an_unknown_form_is_read(self, store: Store) -> None:
        raw = '{"v": 9, "kind": "winch_used", "body": {"rope": 3}, "basis": 1, "noted_at_ms": 5, "bundle": "b"}'
        (row,) = rows_of([an_entry(1, kind="winch_used")])
        append(store, [replace(row, raw=raw)])

        with store.reading() as unit:
            kept = unit.ledger.find("entry-tablet-1-1")
        assert kept is not None
        assert kept.heard.entry == an_entry(
            1, v=9, kind="winch_used", body={"rope": 3}, noted_at_ms=5, bundle="b", basis=Basis(), clock_offset_ms=0
        )

    def test_how_far_each_job_has_come(self, store: Store) -> None:
        rows = rows_of([an_entry(seq, job=f"job-{job}") for seq, job in enumerate((1, 2, 1, 3, 2), 1)])
        append(store, rows)

        with store.reading() as unit:
            last = unit.ledger.last_of(["job-1", "job-2", "job-9"])
            assert unit.ledger.last_of([]) == {}
        assert last == {
            f"job-{job}": LedgerMark(row.heard.order, row.hash, row.heard.heard_at_ms)
            for job, row in ((1, rows[2]), (2, rows[4]))
        }

    def test_the_heads_of_sheets(self, store: Store) -> None:
        packet = a_packet()
        sheet, bare = a_sheet(packet), Sheet("job-9")
        with store.writing() as unit:
            unit.sheets.put_packet(packet)
            unit.sheets.put(sheet)
            unit.sheets.put(bare)
            unit.commit()

        with store.reading() as unit:
            heads = unit.sheets.heads([sheet.job, bare.job, "nobody's"])
        assert heads == {sheet.job: (sheet.hash, packet.hash), bare.job: (bare.hash, "")}

    def test_writers_at_the_same_time_leave_a_gapless_chain(self, store: Store, other: Store) -> None:
        """Each reads, then writes on what it read: the lock held from the beginning is what makes that right."""
        with store.writing() as unit:
            for number in range(4):
                unit.tablets.add(r.Tablet(f"tablet-{number}", f"T{number}"))
            unit.tablets.add(r.Tablet("common", "Common"))
            unit.commit()

        def work(number: int) -> None:
            mine = store if number % 2 else other
            for seq in range(1, 13):
                with mine.writing() as unit:
                    common = unit.tablets.get("common")
                    assert common is not None
                    unit.tablets.save(replace(common, last_seq=common.last_seq + 1))
                    order, previous = unit.ledger.next_order()
                    unit.ledger.append(a_row(an_entry(seq, tablet=f"tablet-{number}"), order, previous))
                    unit.sheets.put(a_sheet(None, entries=order))
                    if seq % 4:
                        unit.commit()

        with ThreadPoolExecutor(4) as pool:
            list(pool.map(work, range(4)))

        with store.reading() as unit:
            rows = unit.ledger.walk()
            assert [row.heard.order for row in rows] == list(range(1, 37))
            assert [row.previous for row in rows] == ["", *(row.hash for row in rows[:-1])]
            common = unit.tablets.get("common")
            assert common is not None
            assert common.last_seq == 36
            sheet = unit.sheets.get("job-1")
            assert sheet is not None
            assert sheet.entries == 36

    # Sheets

    def test_packet_and_sheet_come_back_with_the_same_bytes(self, store: Store, other: Store) -> None:
        packet = a_packet()
        sheet = a_sheet(packet)
        with store.writing() as unit:
            unit.sheets.put_packet(packet)
            unit.sheets.put(sheet)
            unit.commit()

        for mine in (store, other):
            with mine.reading() as unit:
                kept, kept_packet = unit.sheets.get("job-1"), unit.sheets.packet(packet.hash)
            assert kept == sheet
            assert canonical(kept.as_json()) == canonical(sheet.as_json())
            assert kept.hash == sheet.hash
            assert kept_packet == packet
            assert canonical(kept_packet.as_json()) == canonical(packet.as_json())
            assert kept.packet == packet

    def test_a_sheet_may_have_no_packet_yet(self, store: Store, other: Store) -> None:
        with store.writing() as unit:
            unit.sheets.put(a_sheet(None))
            unit.commit()

        with other.reading() as unit:
            assert unit.sheets.get("job-1") == a_sheet(None)
            assert unit.sheets.get("nobody") is None
            assert unit.sheets.packet("nobody") is None

    def test_a_sheet_cannot_stand_on_a_packet_that_is_not_there(self, store: Store) -> None:
        with store.writing() as unit, pytest.raises(NotFound):
            unit.sheets.put(a_sheet(a_packet()))

    def test_putting_a_packet_again_is_harmless(self, store: Store) -> None:
        with store.writing() as unit:
            unit.sheets.put_packet(a_packet())
            unit.sheets.put_packet(a_packet())
            unit.commit()
        with store.writing() as unit:
            unit.sheets.put_packet(a_packet())
            assert unit.sheets.packet(a_packet().hash) == a_packet()

    def test_a_packet_rolled_back_is_not_there(self, store: Store) -> None:
        with store.writing() as unit:
            unit.sheets.put_packet(a_packet())
            assert unit.sheets.packet(a_packet().hash) == a_packet()
            unit.sheets.put(a_sheet(a_packet()))
            assert unit.sheets.get("job-1") == a_sheet(a_packet())

        with store.writing() as unit:
            assert unit.sheets.packet(a_packet().hash) is None
            assert unit.sheets.get("job-1") is None
            with pytest.raises(NotFound):
                unit.sheets.put(a_sheet(a_packet()))

    def test_a_new_packet_replaces_the_one_a_sheet_stands_on(self, store: Store, other: Store) -> None:
        old, new = a_sheet(a_packet(1)), a_sheet(a_packet(2))
        for sheet in (old, new):
            with store.writing() as unit:
                assert sheet.packet is not None
                unit.sheets.put_packet(sheet.packet)
                unit.sheets.put(sheet)
                unit.commit()
            with other.reading() as unit:
                assert unit.sheets.get("job-1") == sheet

    def test_nobody_reads_a_sheet_that_was_changed_elsewhere_or_rolled_back(self, store: Store, other: Store) -> None:
        """Equal numbers of entries do not make equal sheets: a rebuilt one may differ."""
        first, second = a_sheet(None), replace(a_sheet(None), handed_back_note="another")
        with store.writing() as unit:
            unit.sheets.put(first)
            unit.commit()
        with store.reading() as unit:
            assert unit.sheets.get("job-1") == first

        with other.writing() as unit:
            unit.sheets.put(second)
            unit.commit()
        with store.reading() as unit:
            assert unit.sheets.get("job-1") == second

        with store.writing() as unit:
            unit.sheets.put(a_sheet(None, entries=8))
            assert unit.sheets.get("job-1") == a_sheet(None, entries=8)
        with store.reading() as unit:
            assert unit.sheets.get("job-1") == second

    # Placements

    def test_placements_between_share_a_moment_with_the_span_and_are_not_withdrawn(self, store: Store) -> None:
        placement, hour, day = EXAMPLES["placements"][0], timedelta(hours=1), NOON + timedelta(days=10)
        spans = {
            "later": (day + hour, day + 3 * hour),
            "all of it": (day - hour, day + 9 * hour),
            "ends as it begins": (day - hour, day),
            "begins as it ends": (day + 2 * hour, day + 3 * hour),
            "withdrawn": (day, day + hour),
            "inside": (day + timedelta(minutes=1), day + timedelta(minutes=2)),
        }
        with store.writing() as unit:
            add_examples(unit)
            for name, (begins, ends) in spans.items():
                changed = replace(placement, id=name, begins_at=begins, ends_at=ends, withdrawn=name == "withdrawn")
                unit.placements.add(changed)
            unit.commit()

        with store.reading() as unit:
            found = unit.placements_between(day, day + 2 * hour)
            assert [one.id for one in found] == ["all of it", "inside", "later"]
            assert found[1] == unit.placements.get("inside")
            assert unit.placements_between(day - 3 * hour, day - 2 * hour) == ()

    # Jobs

    def test_the_newest_jobs_of_a_state_come_newest_first_and_no_more_than_asked_for(self, store: Store) -> None:
        job = EXAMPLES["jobs"][0]
        with store.writing() as unit:
            add_examples(unit)
            for number in range(1, 5):
                state = r.JobState.CANCELLED if number == 2 else r.JobState.HANDED_BACK
                unit.jobs.add(replace(job, id=f"closed-{number}", number=f"99-{number}", state=state))
            unit.commit()

        with store.reading() as unit:
            found = unit.newest_jobs(r.JobState.HANDED_BACK, 2)
            assert [one.id for one in found] == ["closed-4", "closed-3"]
            assert found[0] == unit.jobs.get("closed-4")
            assert next(one.id for one in unit.newest_jobs(r.JobState.CANCELLED, 10)) == "closed-2"

    # Outbox

    def test_due_messages_are_those_waiting_whose_time_has_come_oldest_first(self, store: Store) -> None:
        second = timedelta(seconds=1)
        message = EXAMPLES["outbox"][0]
        cases = {
            "young": {"made_at": NOON - second},
            "old": {"made_at": NOON - 3 * second},
            "old too": {"made_at": NOON - 3 * second},
            "due": {"made_at": NOON - 2 * second, "next_try_at": NOON},
            "not yet": {"next_try_at": NOON + second},
            "taken": {"taken_until": NOON + second},
            "left lying": {"made_at": NOON - 4 * second, "taken_until": NOON},
            "sent": {"state": r.MessageState.SENT},
            "given up": {"state": r.MessageState.UNDELIVERABLE},
        }
        with store.writing() as unit:
            for name, changes in cases.items():
                unit.outbox.add(replace(message, id=name, key=name, **changes))
            unit.commit()

        expected = ["left lying", "old", "old too", "due", "young"]
        with store.reading() as unit:
            assert [m.id for m in unit.due_messages(NOON, 10)] == expected
        with store.writing() as unit:
            assert [m.id for m in unit.due_messages(NOON, 3)] == expected[:3]
            assert list(unit.due_messages(NOON - timedelta(days=1), 10)) == [
                unit.outbox.get(name) for name in ("old", "old too", "young")
            ]


class UsesContract:
    """What the store promises of uses: beside `StorageContract`, for the same stores."""

    def test_uses_are_found_by_tool_and_time_with_whose_they_are(self, store: Store) -> None:
        with store.writing() as unit:
            add_examples(unit)
            unit.uses.add([a_use(1)])
            unit.uses.add([a_use(2, job="job-2"), a_use(2, stage=1, job="job-2")])
            unit.uses.add([a_use(3, tool="TW-08")])
            unit.commit()

        with store.reading() as unit:
            found, whose = unit.uses.of_tool("TW-07", 1_001)
            assert [(one.order, one.stage) for one in found] == [(1, 0), (2, 0), (2, 1)]
            assert [one.order for one in unit.uses.of_tool("TW-07", 1_002)[0]] == [2, 2]
            assert set(whose) == {"job-1", "job-2"}
            first = EXAMPLES["vehicles"][0]
            assert whose["job-1"].number == "1001"
            assert (whose["job-1"].plate, whose["job-1"].model) == (first.plate, first.model)
            assert whose["job-1"].customer == EXAMPLES["customers"][0].name
            assert not any(unit.uses.of_tool("tw-07", 0))

    def test_uses_are_found_by_figure_and_by_job(self, store: Store) -> None:
        with store.writing() as unit:
            add_examples(unit)
            unit.uses.add([a_use(1)])
            unit.uses.add([a_use(2, job="job-2", figure="figure-2")])
            unit.commit()

        with store.reading() as unit:
            assert [one.order for one in unit.uses.of_figure("figure-2")[0]] == [2]
            assert set(unit.uses.of_figure("figure-2")[1]) == {"job-2"}
            assert [one.order for one in unit.uses.of_job("job-1")] == [1]
            assert unit.uses.has_tool("TW-07")
            assert not unit.uses.has_tool("TW-99")

    def test_a_use_is_read_back_equal_and_in_the_order_heard(self, store: Store) -> None:
        turned = a_use(5, low=None, high=None)
        with store.writing() as unit:
            unit.uses.add([turned])
            unit.uses.add([a_use(4)])
            unit.commit()

        with store.reading() as unit:
            assert list(unit.uses.between(3, 5)) == [a_use(4), turned]
            assert list(unit.uses.between(4, 5)) == [turned]
            assert list(unit.uses.between(5, 9)) == []

    def test_a_sign_off_replaces_what_stood_at_the_joint_and_nothing_else(self, store: Store) -> None:
        with store.writing() as unit:
            unit.uses.add([a_use(1), a_use(1, stage=1)])
            unit.uses.add([a_use(2, kind="countersigned")])
            unit.uses.add([a_use(3, fastener="other")])
            unit.uses.add([a_use(4)])
            unit.uses.add([a_use(5)])
            unit.commit()

        with store.reading() as unit:
            replaced = {(one.order, one.stage): one.replaced_by for one in unit.uses.between(0, 9)}
        assert replaced == {(1, 0): 4, (1, 1): 4, (2, 0): None, (3, 0): None, (4, 0): 5, (5, 0): None}

    def test_clearing_leaves_none(self, store: Store) -> None:
        with store.writing() as unit:
            unit.uses.add([a_use(1)])
            unit.uses.clear()
            unit.commit()

        with store.reading() as unit:
            assert list(unit.uses.between(0, 9)) == []


def a_use(order: int, **changes: Any) -> Use:
    use = Use(
        *(order, 0, "signed_off", "job-1", "step-1", "nut", "Ball joint nut", "TW-07", "Ida Novak", 1_000 + order),
        *(60_000, "60 N·m", 61_000, 57_000, 63_000, "figure-1"),
    )
    return use._replace(**changes)


def register(unit: Unit, name: str) -> Any:
    return getattr(unit, name)


def add_examples(unit: Unit) -> None:
    for name, records in EXAMPLES.items():
        for record in records:
            register(unit, name).add(record)


def free_unique(name: str) -> tuple[str, ...]:
    """The unique fields that may hold any text."""
    return tuple(field for field in UNIQUE.get(name, ()) if field not in ("axle", "edition"))


def plain_fields(record: Any) -> list[str]:
    nested = {"roles", "front", "rear", "lines", "stages", "points", "people"}
    names = [field.name for field in dataclasses.fields(record) if field.name not in nested]
    assert all(isinstance(getattr(record, name), PLAIN) for name in names)
    return names


def rows_of(entries: list[Any]) -> list[LedgerRow]:
    rows: list[LedgerRow] = []
    for entry in entries:
        rows.append(a_row(entry, len(rows) + 1, rows[-1].hash if rows else ""))
    return rows


def append(store: Store, rows: list[LedgerRow]) -> None:
    with store.writing() as unit:
        for row in rows:
            unit.ledger.append(row)
        unit.commit()


def fill(unit: Unit) -> None:
    add_examples(unit)
    unit.take_number("jobs")
    unit.ledger.append(a_row(an_entry(1), 1, ""))
    unit.sheets.put_packet(a_packet(1))
    unit.sheets.put(a_sheet(a_packet(1)))
    unit.uses.add([a_use(1)])


def change_everything(unit: Unit) -> None:
    """Change what `fill` put there, in every way a unit can."""
    for name, (first, second) in EXAMPLES.items():
        third = {field: f"third {field}" for field in free_unique(name)}
        register(unit, name).add(replace(second, id="third", **third))
        fourth = {field: f"fourth {field}" for field in free_unique(name)}
        register(unit, name).save(replace(second, id=first.id, **fourth))
    unit.remove_sign_in(EXAMPLES["sign_ins"][0].id)
    unit.take_number("jobs")
    unit.ledger.append(a_row(an_entry(2), *unit.ledger.next_order()))
    unit.sheets.put_packet(a_packet(2))
    unit.sheets.put(a_sheet(a_packet(2), entries=8))
    unit.sheets.put(a_sheet(None, job="job-2"))
    unit.uses.clear()
    unit.uses.add([a_use(2, tool="TW-08")])


def everything(store: Store) -> list[Any]:
    with store.reading() as unit:
        kept: list[Any] = [list(register(unit, name).all()) for name in EXAMPLES]
        kept += [list(ledger_of(unit).walk()), unit.sheets.get("job-1"), unit.sheets.get("job-2")]
        kept += [unit.sheets.packet(a_packet(edition).hash) for edition in (1, 2)]
        kept.append(list(unit.uses.between(0, 9)))
    with store.writing() as unit:
        kept.append(unit.take_number("jobs"))
    return kept


def ledger_of(unit: Unit) -> Ledger:
    return unit.ledger
