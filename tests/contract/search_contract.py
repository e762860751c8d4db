"""What is found by what, on every store alike. `test_storage_contract` says which stores to try."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from app.domain.records import Customer, Job, JobState, Vehicle
from app.domain.search_words import asked_words
from app.domain.sheet import Mark, Note, StepNow
from app.ports import Store, Unit
from tests.contract.storage_examples import ADDED, EXAMPLES, NOON, a_packet, a_sheet

PEOPLE, VEHICLES, JOBS = EXAMPLES["people"], EXAMPLES["vehicles"], EXAMPLES["jobs"]

# Name, plate, VIN and complaint of one job and vehicle each, and what has to find them.
CAST: dict[str, tuple[str, str, str, str, tuple[str, ...]]] = {
    "plain": (
        "Mira Okonjo", "LK-14 TAL", "ZZZ1FAKE2X3456789", "Clunks over bumps, front left",
        ("LK-14 TAL", "lk14tal", "LK 14TAL", "L K 1 4 T A L", "k14", "tal", "okonjo", "OKON mira", "clunk bump",
         "ZZZ1FAKE2X3456789", "zzz1 fake 2x3456789", "3456789", "6789", "lk14 okonjo front"),
    ),
    "marks": (
        "Zoë Łukasz-Ångström", "Ö ÄB 77", "", "Straße: zieht nach rechts, quietscht",
        ("Zoe", "zoë", "ZOË", "lukasz", "ŁUKASZ", "angstrom", "Ångström", "lukasz-angstrom", "strasse", "STRASSE",
         "Straße", "öäb77", "oab 77", "Zoe\u0308"),
    ),
    "cyrillic": ("Алёна Цветкова", "А 123 ВС 77", "", "Стучит", ("алена", "АЛЁНА", "цветк", "а123вс77", "стучит")),
    "greek": ("Σοφία Παπαδοπούλου", "ΝΙΚ-4417", "", "Τρίζει", ("σοφια", "ΣΟΦΊΑ", "παπαδ", "νικ4417", "τριζ")),
    "han": ("山田太郎", "品川 330 さ 46-49", "", "異音", ("山田", "太郎", "山田太郎", "異音", "品川330", "さ4649")),
    "kana": ("スズカ カナエ", "", "", "ガタガタ", ("スズ", "ｽｽﾞｶ", "ガタ")),
    "hangul": ("김하늘", "12가 3456", "", "소리가 난다", ("김", "김하", "하늘", "12가3456", "소리")),
    "arabic": ("مُنى الحدّاد", "", "", "صوت عند المطبات", ("منى", "الحداد", "مُنى", "صوت")),
    "hebrew": ("שָׂרָה לוי", "", "", "רעש מלפנים", ("שרה", "לוי", "רעש")),
    "devanagari": ("मीरा कुलकर्णी", "", "", "आगे से आवाज़", ("मीरा", "कुलकर्णी", "कुल", "आवाज़")),
    "thai": ("สมชาย", "กข 1234", "", "เสียงดังข้างหน้า", ("สมชาย", "เสียง", "กข1234")),
    "new": ("𞤀𞤁𞤂𞤃", "", "", "", ("𞤀𞤁", "𞤢𞤣𞤤")),
}  # fmt: skip
FOUND = [(key, asked) for key, (*_, asks) in CAST.items() for asked in asks]
NOT_FOUND = ("okonja", "lk14tax", "clunk rechts", "kulk", "कूल", "山本", "0000", "mira x" * 3)
SIGNS = ('"clunks"', "clunks*", "clunks:", "words:clunks", "clunks AND bumps", "clunks & bumps", "(clunks", "clunks)",
         "'clunks'", "^clunks", "clunks +bumps", "-clunks", "clunks; DROP TABLE jobs", "clunks\\", "clunks:*",
         "!clunks", "clunks | bumps", "{words}: clunks", "clunks<->bumps", "clunks%", "clunks\x01bumps")  # fmt: skip
NOTHING = ("", " ", "*", '"', '""', "'", ":", "()", "AND", "OR", "NOT", "NEAR", "NEAR(a b)", "%", "\\", "&|!", "\u0301")


class SearchContract:
    """Subclasses give `store`, and `other`: a second store on the same data."""

    def test_a_job_and_its_vehicle_are_found_however_it_is_typed(self, store: Store) -> None:
        with store.writing() as unit:
            add_cast(unit)
            for key, asked in FOUND:
                _, plate, _, complaint, _ = CAST[key]
                hits = [one for one in unit.search.find(asked_words(asked), 50) if one.vehicle == f"v-{key}"]
                assert f"j-{key}" in {one.job for one in hits}, asked
                assert {one.plate for one in hits} == {plate}
                assert {one.complaint for one in hits if one.job} == {complaint}

    def test_what_nobody_has_is_not_found(self, store: Store) -> None:
        with store.writing() as unit:
            add_cast(unit)
            assert {asked: found(unit, asked) for asked in NOT_FOUND} == {asked: [] for asked in NOT_FOUND}

    def test_signs_are_no_commands(self, store: Store) -> None:
        """They part words and mean nothing; words such as AND are words like others."""
        with store.writing() as unit:
            add_cast(unit)
            for asked in SIGNS:
                has_all = set(asked_words(asked)) <= {"clunks", "bumps"}
                assert found(unit, asked) == (["plain"] if has_all else []), asked

    def test_nothing_asked_finds_nothing(self, store: Store) -> None:
        with store.writing() as unit:
            add_cast(unit)
            assert {asked: found(unit, asked) for asked in NOTHING} == {asked: [] for asked in NOTHING}

    def test_two_thousand_characters_find_what_has_them_all(self, store: Store) -> None:
        story = " ".join(f"knock{number}" for number in range(300))[:2_000]
        endless = "a" * 2_000
        with store.writing() as unit:
            add_cast(unit)
            add_job(unit, "long", "Ida Vale", "", "", f"{story} {endless}")
            assert found(unit, story) == ["long"]
            assert found(unit, endless) == ["long"]
            assert found(unit, f"{story} okonjo") == []

    def test_endless_notes_are_kept_and_do_not_stop_the_work(self, store: Store) -> None:
        """Tens of thousands of long words on one sheet: found by as many as there is room for, the short ones first."""
        mark = Mark("person-1", "Ida", 1, "e-1")
        endless = tuple(Note(mark, " ".join(f"{'ж' * 40}{page}x{n}" for n in range(1_000))) for page in range(30))
        with store.writing() as unit:
            add_cast(unit)
            unit.sheets.put_packet(a_packet())
            notes = (*endless, Note(mark, "rattles"))
            unit.sheets.put(replace(a_sheet(a_packet()), job="j-plain", notes=notes, steps={}))
            assert found(unit, "rattles okonjo") == ["plain"]
            assert unit.search.amiss() == ()
            unit.commit()

    def test_the_job_that_was_opened_last_comes_first_and_no_more_than_asked(self, store: Store) -> None:
        with store.writing() as unit:
            add_cast(unit)
            for number in range(5):
                unit.jobs.add(a_job(f"j-{number}", "v-plain", "c-plain", number=f"31-000{number}"))
            asked = asked_words("lk14tal")
            numbers = [one.number for one in unit.search.find(asked, 50) if one.job]
            assert numbers == ["31-0004", "31-0003", "31-0002", "31-0001", "31-0000", "n-plain"]
            assert [one.number for one in unit.search.find(asked, 2)] == ["31-0004", "31-0003"]
            assert [one.job for one in unit.search.find(asked_words("31-0002"), 50)] == ["j-2"]
            assert [one.job for one in unit.search.find(asked_words("310002"), 50)] == ["j-2"]

    def test_a_hit_tells_the_job_as_it_stands(self, store: Store) -> None:
        with store.writing() as unit:
            add_cast(unit)
            job = replace(a_job("j-9", "v-plain", "c-plain", number="31-9999"), comeback_of="j-plain")
            unit.jobs.add(job)
            unit.jobs.save(replace(job, state=JobState.HANDED_BACK))
            (hit,) = unit.search.find(asked_words("31-9999"), 9)
            assert (hit.state, hit.comeback_of, hit.opened_at, hit.customer) == (
                *("handed_back", "j-plain", NOON, "Mira Okonjo"),
            )

    def test_a_vehicle_without_a_job_is_found_by_itself(self, store: Store) -> None:
        with store.writing() as unit:
            unit.customers.add(Customer("c-1", "Ida Vale", "", ""))
            unit.vehicles.add(replace(VEHICLES[0], customer="c-1", plate="QQ 1", model="Tern Estate"))
            for asked in ("qq1", "vale", "estate"):
                (hit,) = unit.search.find(asked_words(asked), 9)
                assert (hit.job, hit.number, hit.opened_at, hit.vehicle) == ("", "", None, "vehicle-1")

    # Kept in the transaction that changes what it is made from

    def test_a_new_plate_or_name_is_found_and_the_old_one_is_not(self, store: Store) -> None:
        with store.writing() as unit:
            add_cast(unit)
            unit.vehicles.save(replace(a_vehicle("plain"), plate="NEW 1"))
            unit.customers.save(Customer("c-plain", "Ida Vale", "ida@vale.example", "+44 1632 960777"))
            for asked in ("new1", "vale", "ida@vale.example", "960777", "1632-960777"):
                hits = unit.search.find(asked_words(asked), 9)
                assert {one.job for one in hits} == {"", "j-plain"}, asked
            assert found(unit, "lk14tal") == found(unit, "okonjo") == []

    def test_a_part_is_found_by_what_an_estimate_names(self, store: Store) -> None:
        with store.writing() as unit:
            for name in ("people", "customers", "vehicles", "jobs"):
                for one in EXAMPLES[name]:
                    getattr(unit, name).add(one)
            assert unit.search.find(asked_words("bj-1"), 9) == ()
            unit.estimates.add(ADDED["estimates"][0])
            for asked in ("bj-1", "BJ1", "joint bj 1"):
                assert [one.job for one in unit.search.find(asked_words(asked), 9)] == ["job-1"], asked

    def test_what_is_noted_on_a_sheet_is_found_and_what_is_taken_back_is_not(self, store: Store, other: Store) -> None:
        mark = Mark("person-1", "Ida", 1, "e-1")
        with store.writing() as unit:
            add_cast(unit)
            unit.sheets.put_packet(a_packet())
            sheet = replace(a_sheet(a_packet()), job="j-plain", notes=(), steps={})
            unit.sheets.put(sheet)
            noted = replace(sheet, notes=(Note(mark, "Bushing, batch KX-4471.b"),))
            unit.sheets.put(noted)
            unit.commit()
        for asked in ("kx-4471.b", "KX4471", "kx 4471", "bushing"):
            with other.reading() as unit:
                assert found(unit, asked) == ["plain"], asked

        with other.writing() as unit:
            now = unit.sheets.get("j-plain")
            assert now is not None
            unit.sheets.put(replace(now, steps={"x": StepNow(notes=(Note(mark, "Rattles again"),))}))
            assert found(unit, "rattles bushing") == ["plain"]
        with store.reading() as unit:
            assert found(unit, "rattles") == []
            assert unit.search.amiss() == ()

    def test_what_was_not_committed_is_not_found(self, store: Store, other: Store) -> None:
        with store.writing() as unit:
            add_cast(unit)
        with other.reading() as unit:
            assert found(unit, "okonjo") == []

    def test_made_anew_it_finds_the_same(self, store: Store) -> None:
        with store.writing() as unit:
            add_cast(unit)
            before = [unit.search.find(asked_words(asked), 50) for _, asked in FOUND]
            unit.search.rebuild()
            assert [unit.search.find(asked_words(asked), 50) for _, asked in FOUND] == before
            assert unit.search.amiss() == ()
            unit.commit()


def add_cast(unit: Unit) -> None:
    for person in PEOPLE:
        unit.people.add(person)
    for key, (name, plate, vin, complaint, _) in CAST.items():
        add_job(unit, key, name, plate, vin, complaint)


def add_job(unit: Unit, key: str, name: str, plate: str, vin: str, complaint: str) -> None:
    unit.customers.add(Customer(f"c-{key}", name, "", ""))
    unit.vehicles.add(replace(VEHICLES[0], id=f"v-{key}", customer=f"c-{key}", plate=plate, vin=vin, model="m"))
    unit.jobs.add(replace(a_job(f"j-{key}", f"v-{key}", f"c-{key}", number=f"n-{key}"), complaint=complaint))


def a_vehicle(key: str) -> Vehicle:
    _, plate, vin, *_ = CAST[key]
    return replace(VEHICLES[0], id=f"v-{key}", customer=f"c-{key}", plate=plate, vin=vin, model="m")


def a_job(key: str, vehicle: str, customer: str, *, number: str) -> Job:
    return replace(JOBS[0], id=key, number=number, vehicle=vehicle, customer=customer, complaint="")


def found(unit: Unit, asked: str) -> Sequence[str]:
    hits = unit.search.find(asked_words(asked), 50)
    return sorted({one.vehicle.removeprefix("v-") for one in hits})
