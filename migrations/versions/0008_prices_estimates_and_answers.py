"""What the workshop charges, estimates by edition, and what customers said to them. All three are only added to."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from app.storage.columns import Day, Flag, Instant, Whole, Words

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

TABLES = ("prices", "estimates", "answers")
REFUSAL = "what was priced, offered and answered is only ever added to"


def upgrade() -> None:
    _prices()
    _estimates()
    _answers()
    if op.get_bind().dialect.name == "sqlite":
        for table in TABLES:
            for change in ("UPDATE", "DELETE"):
                op.execute(
                    f"CREATE TRIGGER {table}_refuses_{change.lower()} BEFORE {change} ON {table} "
                    f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
                )
        return
    op.execute(
        "CREATE FUNCTION estimates_refuse() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{REFUSAL}'; END $$"
    )
    for table in TABLES:
        op.execute(
            f"CREATE TRIGGER {table}_refuses_change BEFORE UPDATE OR DELETE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION estimates_refuse()"
        )


def downgrade() -> None:
    for table in reversed(TABLES):
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION estimates_refuse()")


def _prices() -> None:
    op.create_table(
        "prices",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("edition", Whole(), nullable=False),
        sa.Column("currency", Words(), nullable=False),
        sa.Column("rate_minor", Whole(), nullable=False),
        sa.Column("basis", Words(), nullable=False),
        sa.Column("rounding", Words(), nullable=False),
        sa.Column("jurisdiction", Words(), nullable=False),
        sa.Column("valid_days", Whole(), nullable=False),
        sa.Column("registration", Words(), nullable=False),
        sa.Column("taxes", Words(), nullable=False),
        sa.Column("kept_by", Words(), nullable=False),
        sa.Column("kept_at", Instant(), nullable=False),
        sa.CheckConstraint("basis IN ('flat', 'clock')", name=op.f("ck_prices_basis")),
        sa.CheckConstraint("rounding IN ('half_up', 'half_even', 'down')", name=op.f("ck_prices_rounding")),
        sa.ForeignKeyConstraint(["kept_by"], ["people.id"], name=op.f("fk_prices_kept_by")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_prices")),
        sa.UniqueConstraint("id", name=op.f("uq_prices_id")),
        sa.UniqueConstraint("edition", name=op.f("uq_prices_edition")),
        sqlite_strict=True,
    )


def _estimates() -> None:
    op.create_table(
        "estimates",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("job", Words(), nullable=False),
        sa.Column("number", Words(), nullable=False),
        sa.Column("edition", Whole(), nullable=False),
        sa.Column("currency", Words(), nullable=False),
        sa.Column("jurisdiction", Words(), nullable=False),
        sa.Column("valid_until", Day(), nullable=False),
        sa.Column("parties", Words(), nullable=False),
        sa.Column("lines", Words(), nullable=False),
        sa.Column("why", Words(), nullable=False),
        sa.Column("made_by", Words(), nullable=False),
        sa.Column("made_by_name", Words(), nullable=False),
        sa.Column("made_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["job"], ["jobs.id"], name=op.f("fk_estimates_job")),
        sa.ForeignKeyConstraint(["made_by"], ["people.id"], name=op.f("fk_estimates_made_by")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_estimates")),
        sa.UniqueConstraint("id", name=op.f("uq_estimates_id")),
        sa.UniqueConstraint("job", "edition", name=op.f("uq_estimates_job_edition")),
        sqlite_strict=True,
    )


def _answers() -> None:
    op.create_table(
        "answers",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("job", Words(), nullable=False),
        sa.Column("edition", Whole(), nullable=False),
        sa.Column("way", Words(), nullable=False),
        sa.Column("name", Words(), nullable=False),
        sa.Column("number", Words(), nullable=False),
        sa.Column("said_at", Instant(), nullable=False),
        sa.Column("read_out_minor", Whole(), nullable=False),
        sa.Column("signature", Words(), nullable=False),
        sa.Column("old_parts", Flag(), nullable=False),
        sa.Column("words", Words(), nullable=False),
        sa.Column("answers", Words(), nullable=False),
        sa.Column("recorded_by", Words(), nullable=False),
        sa.Column("recorded_by_name", Words(), nullable=False),
        sa.Column("recorded_at", Instant(), nullable=False),
        sa.CheckConstraint("way IN ('signed', 'typed', 'phone', 'mail')", name=op.f("ck_answers_way")),
        sa.CheckConstraint("old_parts IN (false, true)", name=op.f("ck_answers_old_parts")),
        sa.ForeignKeyConstraint(["job"], ["jobs.id"], name=op.f("fk_answers_job")),
        sa.ForeignKeyConstraint(["recorded_by"], ["people.id"], name=op.f("fk_answers_recorded_by")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_answers")),
        sa.UniqueConstraint("id", name=op.f("uq_answers_id")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_answers_job"), "answers", ["job"])
