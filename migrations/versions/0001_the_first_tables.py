"""The first tables, the ledger's triggers and its head.

The ledger is only ever added to, whoever holds the connection: triggers refuse UPDATE and DELETE, and TRUNCATE on
PostgreSQL. The head is one row from the start, so that there is always something to lock.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from app.storage.columns import Day, Flag, Instant, Whole, Words

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

REFUSAL = "the ledger is only ever added to"
SQLITE_TRIGGERS = tuple(
    f"CREATE TRIGGER ledger_refuses_{change.lower()} BEFORE {change} ON ledger "
    f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
    for change in ("UPDATE", "DELETE")
)
POSTGRESQL_TRIGGERS = (
    "CREATE FUNCTION ledger_refuses() RETURNS trigger LANGUAGE plpgsql AS "
    f"$$ BEGIN RAISE EXCEPTION '{REFUSAL}'; END $$",
    "CREATE TRIGGER ledger_refuses_change BEFORE UPDATE OR DELETE ON ledger "
    "FOR EACH ROW EXECUTE FUNCTION ledger_refuses()",
    "CREATE TRIGGER ledger_refuses_truncate BEFORE TRUNCATE ON ledger "
    "FOR EACH STATEMENT EXECUTE FUNCTION ledger_refuses()",
)

TABLES = (
    "placements",
    "jobs",
    "vehicles",
    "sign_ins",
    "sheets",
    "figures",
    "tools",
    "tablets",
    "shops",
    "people",
    "packets",
    "outbox",
    "ledger_heads",
    "ledger",
    "customers",
    "counters",
    "bays",
)


def upgrade() -> None:
    op.create_table(
        "bays",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("name", Words(), nullable=False),
        sa.Column("lift", Words(), nullable=False),
        sa.Column("capacity_g", Whole(), nullable=False),
        sa.Column("inspected_on", Day(), nullable=True),
        sa.Column("active", Flag(), nullable=False),
        sa.CheckConstraint(
            "lift IN ('two_post', 'four_post', 'scissor', 'drive_on', 'flat')", name=op.f("ck_bays_lift")
        ),
        sa.CheckConstraint("active IN (false, true)", name=op.f("ck_bays_active")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_bays")),
        sa.UniqueConstraint("id", name=op.f("uq_bays_id")),
        sa.UniqueConstraint("name", name=op.f("uq_bays_name")),
        sqlite_strict=True,
    )
    op.create_table(
        "counters",
        sa.Column("name", Words(), nullable=False),
        sa.Column("value", Whole(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_counters")),
        sqlite_strict=True,
    )
    op.create_table(
        "customers",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("name", Words(), nullable=False),
        sa.Column("email", Words(), nullable=False),
        sa.Column("phone", Words(), nullable=False),
        sa.Column("language", Words(), nullable=False),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_customers")),
        sa.UniqueConstraint("id", name=op.f("uq_customers_id")),
        sqlite_strict=True,
    )
    op.create_table(
        "ledger",
        sa.Column("order", Whole(), autoincrement=False, nullable=False),
        sa.Column("entry_id", Words(), nullable=False),
        sa.Column("tablet", Words(), nullable=False),
        sa.Column("seq", Whole(), nullable=False),
        sa.Column("job", Words(), nullable=False),
        sa.Column("kind", Words(), nullable=False),
        sa.Column("person", Words(), nullable=False),
        sa.Column("name", Words(), nullable=False),
        sa.Column("roles", Words(), nullable=False),
        sa.Column("heard_at_ms", Whole(), nullable=False),
        sa.Column("raw", Words(), nullable=False),
        sa.Column("accepted", Flag(), nullable=False),
        sa.Column("reason", Words(), nullable=False),
        sa.Column("details", Words(), nullable=False),
        sa.Column("previous", Words(), nullable=False),
        sa.Column("hash", Words(), nullable=False),
        sa.CheckConstraint("accepted IN (false, true)", name=op.f("ck_ledger_accepted")),
        sa.PrimaryKeyConstraint("order", name=op.f("pk_ledger")),
        sa.UniqueConstraint("entry_id", name=op.f("uq_ledger_entry_id")),
        sa.UniqueConstraint("tablet", "seq", name=op.f("uq_ledger_tablet_seq")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_ledger_job"), "ledger", ["job"])
    op.create_table(
        "ledger_heads",
        sa.Column("id", Whole(), autoincrement=False, nullable=False),
        sa.Column("entries", Whole(), nullable=False),
        sa.Column("hash", Words(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_ledger_heads_one_row")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ledger_heads")),
        sqlite_strict=True,
    )
    op.create_table(
        "outbox",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("key", Words(), nullable=False),
        sa.Column("job", Words(), nullable=False),
        sa.Column("to", Words(), nullable=False),
        sa.Column("subject", Words(), nullable=False),
        sa.Column("text", Words(), nullable=False),
        sa.Column("html", Words(), nullable=False),
        sa.Column("message_id", Words(), nullable=False),
        sa.Column("made_at", Instant(), nullable=False),
        sa.Column("state", Words(), nullable=False),
        sa.Column("tries", Whole(), nullable=False),
        sa.Column("next_try_at", Instant(), nullable=True),
        sa.Column("sent_at", Instant(), nullable=True),
        sa.Column("last_answer", Words(), nullable=False),
        sa.Column("taken_until", Instant(), nullable=True),
        sa.CheckConstraint("state IN ('waiting', 'sent', 'undeliverable')", name=op.f("ck_outbox_state")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_outbox")),
        sa.UniqueConstraint("id", name=op.f("uq_outbox_id")),
        sa.UniqueConstraint("key", name=op.f("uq_outbox_key")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_outbox_job"), "outbox", ["job"])
    op.create_index(op.f("ix_outbox_state_made_at"), "outbox", ["state", "made_at"])
    op.create_table(
        "packets",
        sa.Column("hash", Words(), nullable=False),
        sa.Column("packet", Words(), nullable=False),
        sa.PrimaryKeyConstraint("hash", name=op.f("pk_packets")),
        sqlite_strict=True,
    )
    op.create_table(
        "people",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("name", Words(), nullable=False),
        sa.Column("roles", Words(), nullable=False),
        sa.Column("pin_hash", Words(), nullable=False),
        sa.Column("active", Flag(), nullable=False),
        sa.Column("wrong_tries", Whole(), nullable=False),
        sa.Column("locked_until", Instant(), nullable=True),
        sa.CheckConstraint("active IN (false, true)", name=op.f("ck_people_active")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_people")),
        sa.UniqueConstraint("id", name=op.f("uq_people_id")),
        sa.UniqueConstraint("name", name=op.f("uq_people_name")),
        sqlite_strict=True,
    )
    op.create_table(
        "shops",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("name", Words(), nullable=False),
        sa.Column("address", Words(), nullable=False),
        sa.Column("email", Words(), nullable=False),
        sa.Column("phone", Words(), nullable=False),
        sa.Column("timezone", Words(), nullable=False),
        sa.Column("torque_unit", Words(), nullable=False),
        sa.Column("gate_minutes", Whole(), nullable=False),
        sa.Column("stand_margin_percent", Whole(), nullable=False),
        sa.Column("compressor_margin_percent", Whole(), nullable=False),
        sa.Column("retorque_km", Whole(), nullable=False),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_shops")),
        sa.UniqueConstraint("id", name=op.f("uq_shops_id")),
        sqlite_strict=True,
    )
    op.create_table(
        "tablets",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("name", Words(), nullable=False),
        sa.Column("last_seq", Whole(), nullable=False),
        sa.Column("seen_at", Instant(), nullable=True),
        sa.Column("retired", Flag(), nullable=False),
        sa.CheckConstraint("retired IN (false, true)", name=op.f("ck_tablets_retired")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_tablets")),
        sa.UniqueConstraint("id", name=op.f("uq_tablets_id")),
        sa.UniqueConstraint("name", name=op.f("uq_tablets_name")),
        sqlite_strict=True,
    )
    op.create_table(
        "tools",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("tag", Words(), nullable=False),
        sa.Column("kind", Words(), nullable=False),
        sa.Column("name", Words(), nullable=False),
        sa.Column("unit", Words(), nullable=False),
        sa.Column("low_mnm", Whole(), nullable=False),
        sa.Column("high_mnm", Whole(), nullable=False),
        sa.Column("length_um", Whole(), nullable=True),
        sa.Column("rating", Whole(), nullable=False),
        sa.Column("rating_basis", Words(), nullable=False),
        sa.Column("due_on", Day(), nullable=True),
        sa.Column("fault", Words(), nullable=False),
        sa.CheckConstraint(
            "kind IN ('torque_wrench', 'stands', 'jack', 'spring_compressor')", name=op.f("ck_tools_kind")
        ),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_tools")),
        sa.UniqueConstraint("id", name=op.f("uq_tools_id")),
        sa.UniqueConstraint("tag", name=op.f("uq_tools_tag")),
        sqlite_strict=True,
    )
    op.create_table(
        "figures",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("model", Words(), nullable=False),
        sa.Column("axle", Words(), nullable=False),
        sa.Column("place_key", Words(), nullable=False),
        sa.Column("edition", Whole(), nullable=False),
        sa.Column("text", Words(), nullable=False),
        sa.Column("unit", Words(), nullable=False),
        sa.Column("stages", Words(), nullable=False),
        sa.Column("thread", Words(), nullable=False),
        sa.Column("strength", Words(), nullable=False),
        sa.Column("lubrication", Words(), nullable=False),
        sa.Column("one_time", Flag(), nullable=False),
        sa.Column("critical", Flag(), nullable=False),
        sa.Column("document", Words(), nullable=False),
        sa.Column("page", Words(), nullable=False),
        sa.Column("document_date", Words(), nullable=False),
        sa.Column("typed_by", Words(), nullable=False),
        sa.Column("typed_at", Instant(), nullable=False),
        sa.Column("compared_by", Words(), nullable=True),
        sa.Column("compared_at", Instant(), nullable=True),
        sa.Column("compared_text", Words(), nullable=False),
        sa.Column("withdrawn", Flag(), nullable=False),
        sa.CheckConstraint("axle IN ('front', 'rear', 'both')", name=op.f("ck_figures_axle")),
        sa.CheckConstraint("critical IN (false, true)", name=op.f("ck_figures_critical")),
        sa.CheckConstraint("one_time IN (false, true)", name=op.f("ck_figures_one_time")),
        sa.CheckConstraint("withdrawn IN (false, true)", name=op.f("ck_figures_withdrawn")),
        sa.ForeignKeyConstraint(["compared_by"], ["people.id"], name=op.f("fk_figures_compared_by")),
        sa.ForeignKeyConstraint(["typed_by"], ["people.id"], name=op.f("fk_figures_typed_by")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_figures")),
        sa.UniqueConstraint("id", name=op.f("uq_figures_id")),
        sa.UniqueConstraint(
            "model", "axle", "place_key", "edition", name=op.f("uq_figures_model_axle_place_key_edition")
        ),
        sqlite_strict=True,
    )
    op.create_table(
        "sheets",
        sa.Column("job", Words(), nullable=False),
        sa.Column("packet", Words(), nullable=True),
        sa.Column("entries", Whole(), nullable=False),
        sa.Column("hash", Words(), nullable=False),
        sa.Column("state", Words(), nullable=False),
        sa.ForeignKeyConstraint(["packet"], ["packets.hash"], name=op.f("fk_sheets_packet")),
        sa.PrimaryKeyConstraint("job", name=op.f("pk_sheets")),
        sqlite_strict=True,
    )
    op.create_table(
        "sign_ins",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("person", Words(), nullable=False),
        sa.Column("csrf", Words(), nullable=False),
        sa.Column("began_at", Instant(), nullable=False),
        sa.Column("seen_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["person"], ["people.id"], name=op.f("fk_sign_ins_person")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_sign_ins")),
        sa.UniqueConstraint("id", name=op.f("uq_sign_ins_id")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_sign_ins_person"), "sign_ins", ["person"])
    op.create_table(
        "vehicles",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("customer", Words(), nullable=False),
        sa.Column("plate", Words(), nullable=False),
        sa.Column("plate_folded", Words(), nullable=True),
        sa.Column("vin", Words(), nullable=False),
        sa.Column("model", Words(), nullable=False),
        sa.Column("year", Whole(), nullable=True),
        sa.Column("colour", Words(), nullable=False),
        sa.Column("tyre_front", Words(), nullable=False),
        sa.Column("tyre_rear", Words(), nullable=False),
        sa.Column("wheelbase_um", Whole(), nullable=True),
        sa.Column("front", Words(), nullable=False),
        sa.Column("rear", Words(), nullable=False),
        sa.Column("high_voltage", Flag(), nullable=False),
        sa.Column("hv_wait_s", Whole(), nullable=True),
        sa.Column("airbag_wait_s", Whole(), nullable=True),
        sa.CheckConstraint("high_voltage IN (false, true)", name=op.f("ck_vehicles_high_voltage")),
        sa.ForeignKeyConstraint(["customer"], ["customers.id"], name=op.f("fk_vehicles_customer")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_vehicles")),
        sa.UniqueConstraint("id", name=op.f("uq_vehicles_id")),
        sa.UniqueConstraint("plate_folded", name=op.f("uq_vehicles_plate_folded")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_vehicles_customer"), "vehicles", ["customer"])
    op.create_index(op.f("ix_vehicles_model"), "vehicles", ["model"])
    op.create_table(
        "jobs",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("number", Words(), nullable=False),
        sa.Column("vehicle", Words(), nullable=False),
        sa.Column("customer", Words(), nullable=False),
        sa.Column("complaint", Words(), nullable=False),
        sa.Column("promised_at", Instant(), nullable=True),
        sa.Column("opened_at", Instant(), nullable=False),
        sa.Column("opened_by", Words(), nullable=False),
        sa.Column("odometer_km", Whole(), nullable=True),
        sa.Column("lines", Words(), nullable=False),
        sa.Column("state", Words(), nullable=False),
        sa.CheckConstraint("state IN ('open', 'handed_back', 'cancelled')", name=op.f("ck_jobs_state")),
        sa.ForeignKeyConstraint(["customer"], ["customers.id"], name=op.f("fk_jobs_customer")),
        sa.ForeignKeyConstraint(["opened_by"], ["people.id"], name=op.f("fk_jobs_opened_by")),
        sa.ForeignKeyConstraint(["vehicle"], ["vehicles.id"], name=op.f("fk_jobs_vehicle")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_jobs")),
        sa.UniqueConstraint("id", name=op.f("uq_jobs_id")),
        sa.UniqueConstraint("number", name=op.f("uq_jobs_number")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_jobs_customer"), "jobs", ["customer"])
    op.create_index(op.f("ix_jobs_state"), "jobs", ["state"])
    op.create_index(op.f("ix_jobs_vehicle"), "jobs", ["vehicle"])
    op.create_table(
        "placements",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("job", Words(), nullable=False),
        sa.Column("bay", Words(), nullable=False),
        sa.Column("technician", Words(), nullable=False),
        sa.Column("begins_at", Instant(), nullable=False),
        sa.Column("ends_at", Instant(), nullable=False),
        sa.Column("placed_by", Words(), nullable=False),
        sa.Column("withdrawn", Flag(), nullable=False),
        sa.CheckConstraint("withdrawn IN (false, true)", name=op.f("ck_placements_withdrawn")),
        sa.ForeignKeyConstraint(["bay"], ["bays.id"], name=op.f("fk_placements_bay")),
        sa.ForeignKeyConstraint(["job"], ["jobs.id"], name=op.f("fk_placements_job")),
        sa.ForeignKeyConstraint(["placed_by"], ["people.id"], name=op.f("fk_placements_placed_by")),
        sa.ForeignKeyConstraint(["technician"], ["people.id"], name=op.f("fk_placements_technician")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_placements")),
        sa.UniqueConstraint("id", name=op.f("uq_placements_id")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_placements_bay_begins_at"), "placements", ["bay", "begins_at"])
    op.create_index(op.f("ix_placements_job"), "placements", ["job"])
    op.create_index(op.f("ix_placements_technician"), "placements", ["technician"])
    op.execute("INSERT INTO ledger_heads (id, entries, hash) VALUES (1, 0, '')")
    for statement in SQLITE_TRIGGERS if op.get_bind().dialect.name == "sqlite" else POSTGRESQL_TRIGGERS:
        op.execute(statement)


def downgrade() -> None:
    for table in TABLES:
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION ledger_refuses()")
