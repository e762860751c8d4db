"""Handbacks by edition and as files, whether a customer may be mailed, when wheels come again. All only added to."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from app.storage.columns import Flag, Instant, Whole, Words

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None

TABLES = ("consents", "retorques", "handbacks", "handback_prints")
REFUSAL = "what was handed back, asked and arranged is only ever added to"


def upgrade() -> None:
    _consents()
    _retorques()
    _handbacks()
    _prints()
    if op.get_bind().dialect.name == "sqlite":
        for table in TABLES:
            for change in ("UPDATE", "DELETE"):
                op.execute(
                    f"CREATE TRIGGER {table}_refuses_{change.lower()} BEFORE {change} ON {table} "
                    f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
                )
        return
    op.execute(
        "CREATE FUNCTION handbacks_refuse() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{REFUSAL}'; END $$"
    )
    for table in TABLES:
        op.execute(
            f"CREATE TRIGGER {table}_refuses_change BEFORE UPDATE OR DELETE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION handbacks_refuse()"
        )


def downgrade() -> None:
    for table in reversed(TABLES):
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION handbacks_refuse()")


def _consents() -> None:
    op.create_table(
        "consents",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("customer", Words(), nullable=False),
        sa.Column("yes", Flag(), nullable=False),
        sa.Column("place", Words(), nullable=False),
        sa.Column("recorded_by", Words(), nullable=False),
        sa.Column("recorded_by_name", Words(), nullable=False),
        sa.Column("recorded_at", Instant(), nullable=False),
        sa.CheckConstraint("yes IN (false, true)", name=op.f("ck_consents_yes")),
        sa.CheckConstraint("place IN ('intake', 'handback', 'customer')", name=op.f("ck_consents_place")),
        sa.ForeignKeyConstraint(["customer"], ["customers.id"], name=op.f("fk_consents_customer")),
        sa.ForeignKeyConstraint(["recorded_by"], ["people.id"], name=op.f("fk_consents_recorded_by")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_consents")),
        sa.UniqueConstraint("id", name=op.f("uq_consents_id")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_consents_customer"), "consents", ["customer"])


def _retorques() -> None:
    op.create_table(
        "retorques",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("job", Words(), nullable=False),
        sa.Column("comes_at", Instant(), nullable=True),
        sa.Column("recorded_by", Words(), nullable=False),
        sa.Column("recorded_by_name", Words(), nullable=False),
        sa.Column("recorded_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["job"], ["jobs.id"], name=op.f("fk_retorques_job")),
        sa.ForeignKeyConstraint(["recorded_by"], ["people.id"], name=op.f("fk_retorques_recorded_by")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_retorques")),
        sa.UniqueConstraint("id", name=op.f("uq_retorques_id")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_retorques_job"), "retorques", ["job"])


def _handbacks() -> None:
    op.create_table(
        "handbacks",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("job", Words(), nullable=False),
        sa.Column("edition", Whole(), nullable=False),
        sa.Column("language", Words(), nullable=False),
        sa.Column("why", Words(), nullable=False),
        sa.Column("changes", Words(), nullable=False),
        sa.Column("facts", Words(), nullable=False),
        sa.Column("subject", Words(), nullable=False),
        sa.Column("text", Words(), nullable=False),
        sa.Column("html", Words(), nullable=False),
        sa.Column("paper", Words(), nullable=False),
        sa.Column("drawings", Words(), nullable=False),
        sa.Column("photos", Words(), nullable=False),
        sa.Column("message", Words(), nullable=False),
        sa.Column("not_mailed", Words(), nullable=False),
        sa.Column("made_by", Words(), nullable=False),
        sa.Column("made_by_name", Words(), nullable=False),
        sa.Column("made_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["job"], ["jobs.id"], name=op.f("fk_handbacks_job")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_handbacks")),
        sa.UniqueConstraint("id", name=op.f("uq_handbacks_id")),
        sa.UniqueConstraint("job", "edition", name=op.f("uq_handbacks_job_edition")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_handbacks_message"), "handbacks", ["message"])


def _prints() -> None:
    op.create_table(
        "handback_prints",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("pdf", Words(), nullable=False),
        sa.Column("pictures", Words(), nullable=False),
        sa.Column("standard", Words(), nullable=False),
        sa.Column("left_out", Words(), nullable=False),
        sa.Column("made_at", Instant(), nullable=False),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_handback_prints")),
        sa.UniqueConstraint("id", name=op.f("uq_handback_prints_id")),
        sqlite_strict=True,
    )
