"""Tablets with a credential of their own, what each says of itself, who works there, and what is missing from it.

A tablet that was listed before has never been enrolled and has said nothing.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from app.storage.columns import Instant, Whole, Words

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

TEXTS = ("secret_hash", "enrolled_by", "retired_by", "retired_because", "bundle")
NUMBERS = ("said_seq", "waiting", "waiting_from", "photos_waiting", "clock_offset_ms")
INSTANTS = ("enrolled_at", "retired_at", "said_at", "owes_since")


def upgrade() -> None:
    with op.batch_alter_table("tablets", table_kwargs={"sqlite_strict": True}) as tablets:
        for name in TEXTS:
            tablets.add_column(sa.Column(name, Words(), nullable=False, server_default=""))
        for name in NUMBERS:
            tablets.add_column(sa.Column(name, Whole(), nullable=False, server_default="0"))
        for name in INSTANTS:
            tablets.add_column(sa.Column(name, Instant(), nullable=True))
    with op.batch_alter_table("tablets", table_kwargs={"sqlite_strict": True}) as tablets:
        for name in TEXTS:
            tablets.alter_column(name, existing_type=Words(), server_default=None)
        for name in NUMBERS:
            tablets.alter_column(name, existing_type=Whole(), server_default=None)
    op.create_table(
        "tablet_people",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("tablet", Words(), nullable=False),
        sa.Column("person", Words(), nullable=False),
        sa.Column("first_at", Instant(), nullable=False),
        sa.Column("last_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["person"], ["people.id"], name=op.f("fk_tablet_people_person")),
        sa.ForeignKeyConstraint(["tablet"], ["tablets.id"], name=op.f("fk_tablet_people_tablet")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_tablet_people")),
        sa.UniqueConstraint("id", name=op.f("uq_tablet_people_id")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_tablet_people_tablet"), "tablet_people", ["tablet"])
    op.create_table(
        "enrolment_codes",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("made_by", Words(), nullable=False),
        sa.Column("made_at", Instant(), nullable=False),
        sa.Column("ends_at", Instant(), nullable=False),
        sa.Column("used_at", Instant(), nullable=True),
        sa.Column("tablet", Words(), nullable=False),
        sa.Column("wrong_tries", Whole(), nullable=False),
        sa.Column("locked_until", Instant(), nullable=True),
        sa.ForeignKeyConstraint(["made_by"], ["people.id"], name=op.f("fk_enrolment_codes_made_by")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_enrolment_codes")),
        sa.UniqueConstraint("id", name=op.f("uq_enrolment_codes_id")),
        sqlite_strict=True,
    )
    op.create_table(
        "tablet_alarms",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("tablet", Words(), nullable=False),
        sa.Column("kind", Words(), nullable=False),
        sa.Column("raised_at", Instant(), nullable=False),
        sa.Column("since", Instant(), nullable=True),
        sa.Column("count", Whole(), nullable=False),
        sa.Column("first_seq", Whole(), nullable=False),
        sa.Column("last_seq", Whole(), nullable=False),
        sa.Column("people", Words(), nullable=False),
        sa.Column("job", Words(), nullable=False),
        sa.Column("settled_at", Instant(), nullable=True),
        sa.Column("settled_by", Words(), nullable=False),
        sa.Column("settled_because", Words(), nullable=False),
        sa.CheckConstraint("kind IN ('went_back', 'missing', 'no_job', 'retired')", name=op.f("ck_tablet_alarms_kind")),
        sa.ForeignKeyConstraint(["tablet"], ["tablets.id"], name=op.f("fk_tablet_alarms_tablet")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_tablet_alarms")),
        sa.UniqueConstraint("id", name=op.f("uq_tablet_alarms_id")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_tablet_alarms_settled_at"), "tablet_alarms", ["settled_at"])


def downgrade() -> None:
    for table in ("tablet_alarms", "enrolment_codes", "tablet_people"):
        op.drop_table(table)
    with op.batch_alter_table("tablets", table_kwargs={"sqlite_strict": True}) as tablets:
        for name in (*TEXTS, *NUMBERS, *INSTANTS):
            tablets.drop_column(name)
