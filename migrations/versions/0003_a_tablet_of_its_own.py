"""Tablets get a credential of their own and say what they owe; who signed in there, and what was lost, is kept.

Tablets known before have no credential and are enrolled like new ones.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from app.storage.columns import Instant, Whole, Words

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

TEXTS = ("secret_hash", "retired_because", "bundle")
WHOLES = ("said_seq", "waiting", "waiting_from", "photos_waiting", "offset_ms")
INSTANTS = ("enrolled_at", "waiting_since")


def upgrade() -> None:
    with op.batch_alter_table("tablets", table_kwargs={"sqlite_strict": True}) as tablets:
        for name in TEXTS:
            tablets.add_column(sa.Column(name, Words(), nullable=False, server_default=""))
        for name in WHOLES:
            tablets.add_column(sa.Column(name, Whole(), nullable=False, server_default="0"))
        for name in INSTANTS:
            tablets.add_column(sa.Column(name, Instant(), nullable=True))
        tablets.add_column(sa.Column("enrolled_by", Words(), nullable=True))
    with op.batch_alter_table("tablets", table_kwargs={"sqlite_strict": True}) as tablets:
        for name in TEXTS:
            tablets.alter_column(name, existing_type=Words(), server_default=None)
        for name in WHOLES:
            tablets.alter_column(name, existing_type=Whole(), server_default=None)
    op.create_table(
        "enrolments",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("made_by", Words(), nullable=False),
        sa.Column("made_at", Instant(), nullable=False),
        sa.Column("ends_at", Instant(), nullable=False),
        sa.Column("tablet", Words(), nullable=True),
        sa.ForeignKeyConstraint(["made_by"], ["people.id"], name=op.f("fk_enrolments_made_by")),
        sa.ForeignKeyConstraint(["tablet"], ["tablets.id"], name=op.f("fk_enrolments_tablet")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_enrolments")),
        sa.UniqueConstraint("id", name=op.f("uq_enrolments_id")),
        sqlite_strict=True,
    )
    op.create_table(
        "at_tablets",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("tablet", Words(), nullable=False),
        sa.Column("person", Words(), nullable=False),
        sa.Column("since", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["tablet"], ["tablets.id"], name=op.f("fk_at_tablets_tablet")),
        sa.ForeignKeyConstraint(["person"], ["people.id"], name=op.f("fk_at_tablets_person")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_at_tablets")),
        sa.UniqueConstraint("id", name=op.f("uq_at_tablets_id")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_at_tablets_tablet"), "at_tablets", ["tablet"])
    op.create_table(
        "losses",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("tablet", Words(), nullable=False),
        sa.Column("from_seq", Whole(), nullable=False),
        sa.Column("to_seq", Whole(), nullable=False),
        sa.Column("noticed_at", Instant(), nullable=False),
        sa.Column("settled_by", Words(), nullable=True),
        sa.Column("settled_at", Instant(), nullable=True),
        sa.Column("reason", Words(), nullable=False),
        sa.ForeignKeyConstraint(["tablet"], ["tablets.id"], name=op.f("fk_losses_tablet")),
        sa.ForeignKeyConstraint(["settled_by"], ["people.id"], name=op.f("fk_losses_settled_by")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_losses")),
        sa.UniqueConstraint("id", name=op.f("uq_losses_id")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_losses_tablet"), "losses", ["tablet"])


def downgrade() -> None:
    for table in ("losses", "at_tablets", "enrolments"):
        op.drop_table(table)
    with op.batch_alter_table("tablets", table_kwargs={"sqlite_strict": True}) as tablets:
        for name in (*TEXTS, *WHOLES, *INSTANTS, "enrolled_by"):
            tablets.drop_column(name)
