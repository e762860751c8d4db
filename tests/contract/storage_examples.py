"""Invented records for the storage contract: two of each kind, unlike in every field, in an order in which each finds
what it refers to."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

from app.domain import records as r
from app.domain.entry import Basis, Entry, Heard, entry_json
from app.domain.estimate import (
    Answer,
    Estimate,
    Labour,
    LineAnswer,
    OfferedLine,
    Other,
    Part,
    Parties,
    PutBack,
    ShopPrices,
    TaxPart,
    TaxRow,
    Way,
)
from app.domain.handback import AskedWhere, Changed, Consent, Drawn, HandbackEdition, HandbackPrint, Retorque
from app.domain.packet import (
    Axle,
    Check,
    CheckKind,
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
    Signal,
    Stage,
    Step,
    Support,
    Trial,
    Verdict,
    Wrench,
)
from app.domain.readiness import ReadinessCheck, ReadinessPoint
from app.domain.sheet import (
    Aside,
    GateNow,
    HandOver,
    Hold,
    Mark,
    Note,
    Outcome,
    Said,
    Sheet,
    Signature,
    StepNow,
    SupportNow,
    Taken,
)
from app.ports import LedgerRow
from app.trade.labour import Basis as TimeBasis
from app.trade.labour import LineKind, PartCondition, Rounding

NOON = datetime(2031, 3, 4, 12, 0, 0, 123_456, tzinfo=UTC)
ELSEWHERE = datetime(2031, 3, 4, 23, 30, tzinfo=timezone(timedelta(hours=5, minutes=45)))

ARM = r.AxleFacts(
    layout="double_wishbone",
    mass_g=812_000,
    track_um=1_545_000,
    place="lower_arm",
    facts=(("joint_fixing", "riveted"), ("bush", "hydraulic")),
    spring=r.SpringFacts(31_500, 402_000, 246_000, 318_000, 12_700, "typed from a drawing"),
)
BEAM = r.AxleFacts(layout="twist_beam")

TABLET_2 = r.Tablet(
    *("tablet-2", "Bay two", 2**40, NOON, True, "e" * 64, ELSEWHERE, "person-1", NOON, "person-2", "Broken glass"),
    *(NOON, 2**41, 3, 2**40 + 1, 2, "0123abcd", -3_600_000, ELSEWHERE),
)

EXAMPLES: Mapping[str, tuple[Any, Any]] = {
    "shops": (
        r.Shop("shop-1", "Werkstatt Ö", "1 Mill Lane\nUpper Ford", "desk@shop.example", "+00 1"),
        r.Shop("shop-2", "Other", "", "", "", "Pacific/Apia", "lbf·ft", 30, 40, 50, 100, 7, 12, 5_000, 30),
    ),
    "people": (
        r.Person("person-1", "Ida Novak", frozenset({r.Role.TECHNICIAN, r.Role.FOREMAN}), "$argon2id$1"),
        r.Person("person-2", "Omar Lindqvist", frozenset(), "$argon2id$2", False, 3, ELSEWHERE),
    ),
    "sign_ins": (
        r.SignIn("a" * 64, "person-1", "csrf-1", NOON, NOON + timedelta(seconds=1)),
        r.SignIn("b" * 64, "person-2", "csrf-2", ELSEWHERE, ELSEWHERE),
    ),
    "tablets": (r.Tablet("tablet-1", "Bay one"), TABLET_2),
    "tablet_people": (
        r.TabletPerson("tablet-1 person-1", "tablet-1", "person-1", NOON, ELSEWHERE),
        r.TabletPerson("tablet-2 person-2", "tablet-2", "person-2", ELSEWHERE, ELSEWHERE),
    ),
    "enrolment_codes": (
        r.EnrolmentCode("c" * 64, "person-1", NOON, NOON + timedelta(minutes=10)),
        r.EnrolmentCode("d" * 64, "person-2", ELSEWHERE, ELSEWHERE, NOON, "tablet-2", 4, ELSEWHERE),
    ),
    "tablet_alarms": (
        r.TabletAlarm(
            *("alarm-1", "tablet-1", r.AlarmKind.MISSING, NOON, ELSEWHERE, 6, 15, 20, ("Ida Novak", "Omar Ö"), "job-1")
        ),
        r.TabletAlarm(
            *("alarm-2", "tablet-2", r.AlarmKind.WENT_BACK, ELSEWHERE, None, 0, 0, 0, (), ""),
            *(NOON, "person-1", "The tablet was put back by its maker."),
        ),
    ),
    "readiness": (
        ReadinessCheck("tablet-1", "tablet-1", NOON, (ReadinessPoint("secure", True, "Seen – ja."),)),
        ReadinessCheck("tablet-2", "tablet-2", ELSEWHERE, ()),
    ),
    "tools": (
        r.Tool(
            *("tool-1", "TW-07", r.ToolKind.TORQUE_WRENCH, "Click wrench", "N·m", 20_000, 200_000, 410_000),
            due_on=date(2031, 9, 1),
            type="II A",
            checked_on=date(2030, 9, 1),
            cycles=1_200,
        ),
        r.Tool("tool-2", "ST-02", r.ToolKind.STANDS, "Stands", rating=3_000_000, rating_basis="pair", fault="bent"),
    ),
    "bays": (
        r.Bay("bay-1", "1", r.LiftKind.TWO_POST, 3_500_000, date(2031, 1, 15), True, "tool-1"),
        r.Bay("bay-2", "Yard", r.LiftKind.FLAT, 0, None, False),
    ),
    "customers": (
        r.Customer("customer-1", "Ms Vale", "vale@home.example", "+00 2"),
        r.Customer("customer-2", "渡辺", "", "", "ja"),
    ),
    "vehicles": (
        r.Vehicle(
            "vehicle-1", "customer-1", "AB 12 CDE", "", "Tern 2.0", 2019, "red", "205/55 R16", "", None, ARM, BEAM
        ),
        r.Vehicle(
            *("vehicle-2", "customer-2", "ß-77", "X" * 17, "Gull", None, "", "", "225/45 R17", 2_700_000, BEAM, ARM),
            high_voltage=True,
            hv_wait_s=600,
            airbag_wait_s=180,
        ),
    ),
    "jobs": (
        r.Job(
            *("job-1", "1001", "vehicle-1", "customer-1", "Knocks over bumps", ELSEWHERE, NOON, "person-1", 81_250),
            lines=(
                r.JobLine("line-1", "ball_joint", Axle.FRONT, "left", (("joint_position", "lower"),)),
                r.JobLine("line-2", "inspection", Axle.BOTH),
            ),
        ),
        r.Job(
            *("job-2", "1002", "vehicle-2", "customer-2", "", None, ELSEWHERE, "person-2", None),
            lines=(),
            state=r.JobState.CANCELLED,
            comeback_of="job-1",
        ),
    ),
    "reminders": (
        r.Reminder(
            *("job-1 l1.look", "job-1", "vehicle-1", r.ReminderKind.WATCH, "Ball joint", date(2031, 9, 4), 91_250),
            made_at=NOON,
        ),
        r.Reminder(
            *("job-2 l9.wheels", "job-2", "vehicle-2", r.ReminderKind.RETORQUE, "", date(2031, 3, 18), None, ELSEWHERE),
            *(NOON, "person-2", "Was here, 110 N·m."),
        ),
    ),
    "placements": (
        r.Placement("placement-1", "job-1", "bay-1", "person-1", NOON, NOON + timedelta(hours=2), "person-2"),
        r.Placement("placement-2", "job-2", "bay-2", "person-2", ELSEWHERE, ELSEWHERE, "person-1", True),
    ),
    "figures": (
        r.FigureRecord(
            *("figure-1", "Tern 2.0", Axle.FRONT, "ball_joint_nut", 1, "60 N·m + 90°", "N·m"),
            stages=(
                Stage(low_mnm=57_000, target_mnm=60_000, high_mnm=63_000, text="60 N·m"),
                Stage(low_mdeg=85_000, target_mdeg=90_000, high_mdeg=95_000, text="90°"),
            ),
            thread="M12×1.5",
            strength="10",
            lubrication="dry",
            one_time=True,
            critical=True,
            document="Handbook of the Tern",
            page="12-4",
            document_date="2018-05",
            typed_by="person-1",
            typed_at=NOON,
            compared_by="person-2",
            compared_at=ELSEWHERE,
            compared_text="60 N·m + 90°",
        ),
        r.FigureRecord(
            *("figure-2", "Gull", Axle.REAR, "shock_lower", 2, "81 lbf·ft", "lbf·ft"),
            stages=(),
            thread="",
            strength="",
            lubrication="",
            one_time=False,
            critical=False,
            document="",
            page="",
            document_date="",
            typed_by="person-2",
            typed_at=ELSEWHERE,
            withdrawn=True,
            kind=r.FigureKind.ALIGNMENT,
            low=-750,
            target=-(2**40),
            high=0,
            tyre="205/65 R15",
            point="lower edge of the arch",
            replaced=True,
        ),
    ),
    "figure_choices": (
        r.FigureChoice("choice-1", "job-1", "figure-1", "figure-2", "person-1", NOON),
        r.FigureChoice(
            *("choice-2", "job-1", "figure-2", "figure-1", "person-2", ELSEWHERE, r.Choice.KEEP, "person-1", NOON),
            "begun with it",
        ),
    ),
    "figure_imports": (
        r.FigureImport("import-1", "person-1", "figures.csv", "c" * 64, "model;axle\r\n", "", "[]", NOON),
        r.FigureImport("import-2", "person-2", "", "d" * 64, "", "Windows-1252", "[[2,1]]", ELSEWHERE, NOON),
    ),
    "calibrations": (
        r.Calibration(
            *("calibration-1", "tool-1", date(2030, 9, 1), "Test bench", "K-81"),
            points=(r.CalibrationPoint(40_000, "40 N·m", 39_000, "39,0 N·m", 25_641),),
            allowed_ppm=40_000,
            passes=True,
            adjusted=False,
            due_on=date(2031, 9, 1),
            certificate="d" * 64,
            certificate_name="K-81.pdf",
            entered_by="person-1",
            entered_at=NOON,
            good_on=date(2029, 9, 2),
        ),
        r.Calibration(
            *("calibration-2", "tool-2", date(2029, 2, 28), "", "", (), 60_000, False, True, None, "", ""),
            entered_by="person-2",
            entered_at=ELSEWHERE,
        ),
    ),
    "tool_events": (
        r.ToolEvent("event-1", "tool-1", r.Mishap.OVERLOAD, "slipped", 260_000, "260 N·m", "person-1", NOON),
        r.ToolEvent(
            *("event-2", "tool-2", r.Mishap.DROP, "", None, "", "person-2", ELSEWHERE),
            seen_by="person-1",
            seen_at=NOON,
            seen_words="nothing bent",
        ),
    ),
    "loans": (
        r.Loan("loan-1", "tool-1", "person-1", NOON),
        r.Loan("loan-2", "tool-2", "person-2", ELSEWHERE, NOON),
    ),
    "photos": (
        r.PhotoNamed("entry-7", "job-1", "a" * 64, refused="photo_too_large"),
        r.PhotoNamed("entry-8", "job-2", "b" * 64, here=True),
    ),
    "outbox": (
        r.OutgoingMessage(
            *("message-1", "handback:job-1:1", "job-1", "vale@home.example", "Ready", "text\r\n", "<p>text</p>"),
            message_id="<1@shop.example>",
            made_at=NOON,
        ),
        r.OutgoingMessage(
            *("message-2", "welcome:2", "", "x@home.example", "", "", ""),
            message_id="<2@shop.example>",
            made_at=ELSEWHERE,
            state=r.MessageState.SENT,
            tries=4,
            next_try_at=NOON,
            sent_at=NOON,
            last_answer="250 kept",
            taken_until=ELSEWHERE,
            came_back_at=ELSEWHERE,
            came_back_because="550 no such user",
            came_back_noted_by="person-1",
        ),
    ),
}

# What must not be there twice, beside the id.
UNIQUE: Mapping[str, tuple[str, ...]] = {
    "people": ("name",),
    "tablets": ("name",),
    "bays": ("name",),
    "vehicles": ("plate",),
    "jobs": ("number",),
    "figures": ("model", "axle", "place_key", "edition"),
    "tools": ("tag",),
    "outbox": ("key",),
}

# Registers that are only ever added to: two of each, what no two share, and what has to be there before.
ADDED: Mapping[str, tuple[Any, Any]] = {
    "prices": (
        ShopPrices(
            *("prices-1", 1, "EUR", 9_850, TimeBasis.FLAT, Rounding.HALF_UP, "", 14, "HRB 77"),
            (TaxRow("USt", date(2007, 1, 1), date(2020, 6, 30), 190_000, (LineKind.LABOUR, LineKind.PART)),),
            *("person-1", NOON),
        ),
        ShopPrices(
            *("prices-2", 2, "JPY", 0, TimeBasis.CLOCK, Rounding.DOWN, "US-FL", 0, "", (), "person-2", ELSEWHERE)
        ),
    ),
    "estimates": (
        Estimate(
            *("estimate-1", "job-1", "1001", 1, "EUR", "", date(2031, 4, 1)),
            Parties("Werkstatt Ö", "1 Mill Lane", "+00 1", "", "HRB 77", "山田", "Tern", "AB 12", None, "It clunks"),
            (
                OfferedLine(
                    *("l1", "Ball joint", (Labour("Fit", 5_400, 9_850, TimeBasis.FLAT),)),
                    (Part("Joint", "BJ-1", 1_500, 4_299, PartCondition.REBUILT, True, True),),
                    (Other(LineKind.SUBLET, "Alignment", "Rig & Co", 6_000),),
                    *(50_000, "The boot is destroyed", 2_500, (14_036, 6_126, 5_700), 14_036, 6_126, 5_700),
                    (TaxPart("USt", 190_000, 20_162, 3_831),),
                ),
            ),
            *("", "person-1", "Ida Novak", NOON),
        ),
        Estimate(
            *("estimate-2", "job-1", "1001", 2, "EUR", "US-FL", date(2031, 5, 1)),
            Parties("", "", "", "", "", "", "", "", 123_456, ""),
            *((), "Dearer joint", "person-2", "Omar Lindqvist", ELSEWHERE),
        ),
    ),
    "answers": (
        Answer(
            *("answer-1", "job-1", 1, Way.PHONE, "M. Okonjo", "+00 2", NOON, 29_693, "", True, "At noon"),
            (LineAnswer("l1", True, 29_693), LineAnswer("l2", False, 100, PutBack.AS_RECEIVED)),
            *("person-1", "Ida Novak", NOON),
        ),
        Answer(
            *("answer-2", "job-1", 2, Way.SIGNED, "山田", "", ELSEWHERE, 0, "M0 0L9 9", False, "", ()),
            *("person-2", "Omar Lindqvist", ELSEWHERE),
        ),
    ),
    "consents": (
        Consent("consent-1", "customer-1", True, AskedWhere.INTAKE, "person-1", "Ida Novak", NOON),
        Consent("consent-2", "customer-1", False, AskedWhere.HANDBACK, "person-2", "Omar Lindqvist", ELSEWHERE),
    ),
    "retorques": (
        Retorque("retorque-1", "job-1", ELSEWHERE, "person-1", "Ida Novak", NOON),
        Retorque("retorque-2", "job-1", None, "person-2", "Omar Lindqvist", ELSEWHERE),
    ),
    "handbacks": (
        HandbackEdition(
            *("handback-1", "job-1", 1, "en", "", (), "{}", "Ready", "text\r\n", "<p>text</p>", "<h1>text</h1>"),
            (Drawn("heights", "<svg/>", "Höhen"),),
            *(("a" * 64, "b" * 64), "message-1", "", "person-1", "Ida Novak", NOON),
        ),
        HandbackEdition(
            *("handback-2", "job-1", 2, "zh", "Dearer", (Changed("Price", ("2 EUR",), ("1 EUR", "山")),), "{}"),
            *("", "", "", "", (), (), "", "no_consent", "nobody here", "", ELSEWHERE),
        ),
    ),
    "handback_prints": (
        HandbackPrint("handback-1", "c" * 64, (("heights", "d" * 64),), "ua-1", (), NOON),
        HandbackPrint("handback-2", "e" * 64, (), "", ("a" * 64,), ELSEWHERE),
    ),
}
ADDED_UNIQUE: Mapping[str, tuple[str, ...]] = {
    "prices": ("edition",),
    "estimates": ("job", "edition"),
    "answers": (),
    "consents": (),
    "retorques": (),
    "handbacks": ("job", "edition"),
    "handback_prints": (),
}
ADDED_REFERENCES: tuple[tuple[str, str], ...] = (
    ("prices", "kept_by"),
    ("estimates", "job"),
    ("estimates", "made_by"),
    ("answers", "job"),
    ("answers", "recorded_by"),
    ("consents", "customer"),
    ("consents", "recorded_by"),
    ("retorques", "job"),
    ("retorques", "recorded_by"),
    ("handbacks", "job"),
)

# What has to be there before a record may name it.
REFERENCES: tuple[tuple[str, str], ...] = (
    ("sign_ins", "person"),
    ("tablet_people", "tablet"),
    ("tablet_people", "person"),
    ("enrolment_codes", "made_by"),
    ("tablet_alarms", "tablet"),
    ("readiness", "tablet"),
    ("vehicles", "customer"),
    ("jobs", "vehicle"),
    ("jobs", "customer"),
    ("jobs", "opened_by"),
    ("reminders", "job"),
    ("reminders", "vehicle"),
    ("reminders", "done_by"),
    ("placements", "job"),
    ("placements", "bay"),
    ("placements", "technician"),
    ("placements", "placed_by"),
    ("figures", "typed_by"),
    ("figures", "compared_by"),
    ("bays", "lift_tool"),
    ("calibrations", "tool"),
    ("calibrations", "entered_by"),
    ("tool_events", "tool"),
    ("tool_events", "reported_by"),
    ("tool_events", "seen_by"),
    ("loans", "tool"),
    ("loans", "person"),
    ("figure_choices", "job"),
    ("figure_choices", "figure"),
    ("figure_choices", "newer"),
    ("figure_choices", "asked_by"),
    ("figure_choices", "decided_by"),
    ("figure_imports", "person"),
)


def an_entry(number: int, *, tablet: str = "tablet-1", job: str = "job-1", **changes: Any) -> Entry:
    entry = Entry(
        v=1,
        id=f"entry-{tablet}-{number}",
        tablet=tablet,
        seq=number,
        job=job,
        kind="note_added",
        body={"text": "Schraube \u2013 fest\n", "step": ""},
        person="person-1",
        noted_at_ms=1_900_000_000_000 + number,
        basis=Basis(packet="f" * 64, step_revision=1, support_revision=None, gate_revision=2, holds=("hold-1",)),
        clock_offset_ms=-250,
        bundle="bundle-1",
    )
    return replace(entry, **changes)


def a_row(entry: Entry, order: int, previous: str, **changes: Any) -> LedgerRow:
    row = LedgerRow(
        heard=Heard(entry, order, 1_900_000_000_500 + order, "Ida Novak", ("technician", "foreman")),
        raw=json.dumps(entry_json(entry)),
        accepted=True,
        reason="",
        details={},
        previous=previous,
        hash=f"{order:064x}",
    )
    return replace(row, **changes)


def a_packet(edition: int = 1) -> Packet:
    """A packet with something in every field."""
    figure = Figure("figure-1", "60 N·m", "N·m", (Stage(57_000, 60_000, 63_000, text="60 N·m"),), "Handbook", True)
    fastener = Fastener(
        *("nut", "Ball joint nut", Pass.FINAL, (Support.ON_WHEELS, Support.ON_RAMP), "ball_joint_nut"),
        thread="M12×1.5",
        one_time=True,
        critical=True,
        castellated=True,
        figure=figure,
    )
    check = Check(
        *("rating", CheckKind.VALUE, "What does the label say?", "Take stronger stands"),
        dimension="mass",
        unit="kg",
        at_least=2_000_000,
        halve_unless=("each", "each"),
        limit_text="2,000 kg",
    )
    looked = Check("pins", CheckKind.SEEN, "Pins?", "Put them in", choices=(Choice("in", "All in", True),))
    step = Step(
        *("step-1", "line-1", "torque", "Torque the nut", "Draw it up", "It carries the wheel", Axle.FRONT),
        supports=(Support.ON_WHEELS,),
        corner="left",
        gates=("stands:front",),
        measures=(Measure("play", "Play", "length", "mm", True, True, 0, 500, "0–0.5 mm", "Handbook"),),
        fasteners=(fastener,),
        one_time=(OneTime("pin", "Cotter pin"),),
        tools=("Torque wrench",),
        trial=Trial("wiggle", "Ball joint", (Choice("tight", "No play", True),), "axial"),
        after=("step-0",),
        countersign=True,
        reckoned=(Reckoned("Setting", "55 N·m", "60 N·m, 40 mm", "±2 %"),),
    )
    gate = Gate(
        *("stands:front", "stands", "Stands", Signal.DANGER, "crush", "Look first", (looked, check)),
        stale_after_s=3_600,
        follows_support=True,
        supports=(Support.STANDS_FRAME,),
    )
    return Packet(
        v=1,
        job="job-1",
        number="1001",
        edition=edition,
        vehicle={"plate": "AB 12 CDE", "model": "Tern 2.0"},
        layouts={"front": "double_wishbone"},
        lines=(Line("line-1", "ball_joint", 3, "Ball joint", Axle.FRONT, "left"),),
        steps=(step,),
        gates=(gate,),
        wrenches=(
            Wrench("TW-07", "Click wrench", "N·m", 20_000, 200_000, "2031-09-01", 410_000, "", 1_946_000_000_000),
        ),
        procedures={"line-1": "0" * 64},
        missing=("figure:shock_lower",),
    )


def a_sheet(packet: Packet | None, entries: int = 7, job: str = "job-1") -> Sheet:
    """A sheet with something in every field."""
    mark = Mark("person-1", "Ida Novak", 1_900_000_000_000, "entry-1")
    signature = Signature(mark, Pass.FINAL, ("60 N·m",), (60_000,), "TW-07", 40_000, 90, True)
    said = Said("in", None, None, "", True, "entry-2", 4)
    return Sheet(
        job=job,
        packet=packet,
        entries=entries,
        support=SupportNow(Support.STANDS_FRAME, Axle.FRONT, "subframe", 2, mark),
        steps={
            "step-1": StepNow(
                done=mark,
                readings={"play": Taken(mark, 300, "0.3", "mm", True)},
                signatures={"nut": signature},
                counters={"nut": signature},
                seen=mark,
                seen_text="looked",
                outcome=Outcome(mark, "tight", Verdict.SOUND, ""),
                new_parts=("pin",),
                notes=(Note(mark, "Ölfilm", "c" * 64),),
                reopened=(Note(mark, "wrong side"),),
            )
        },
        gates={"stands:front": GateNow("person-1", "Ida Novak", 2, 1, {"pins": said}, 5, 3, True)},
        holds={"hold-1": Hold(mark, "step-1", "wait for parts", mark, "parts came")},
        asides={"entry-9": Aside(mark, "signed_off", "step-1", "nut", "gate_stale", {"minutes": 70, "who": "Omar"})},
        hand_overs=(HandOver(mark, "person-2", "Omar Lindqvist", "left side done"),),
        notes=(Note(mark, "key is in the office"),),
        handed_back=mark,
        handed_back_note="done",
        editions=("a" * 64, packet.hash) if packet else (),
        gates_since={"stands:front": 2},
    )
