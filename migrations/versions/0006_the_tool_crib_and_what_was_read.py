"""Tools know their calibrations, mishaps and borrowers; bays their lift; `uses` says what was read off which wrench.

`uses` begins empty: `python -m app rebuild` fills it from the ledger of an installation that has one.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from app.storage.columns import Day, Flag, Instant, Whole, Words

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

KINDS = ("torque_wrench", "stands", "jack", "spring_compressor")


def upgrade() -> None:
    with op.batch_alter_table("tools", table_kwargs={"sqlite_strict": True}) as tools:
        tools.add_column(sa.Column("type", Words(), nullable=False, server_default=""))
        tools.add_column(sa.Column("checked_on", Day(), nullable=True))
        tools.add_column(sa.Column("cycles", Whole(), nullable=True))
        tools.drop_constraint(op.f("ck_tools_kind"), type_="check")
        tools.create_check_constraint(op.f("ck_tools_kind"), _one_of("kind", (*KINDS, "lift")))
    with op.batch_alter_table("tools", table_kwargs={"sqlite_strict": True}) as tools:
        tools.alter_column("type", existing_type=Words(), server_default=None)
    with op.batch_alter_table("bays", table_kwargs={"sqlite_strict": True}) as bays:
        bays.add_column(sa.Column("lift_tool", Words(), nullable=True))
        bays.create_foreign_key(op.f("fk_bays_lift_tool"), "tools", ["lift_tool"], ["id"])
    _calibrations()
    _tool_events()
    _loans()
    _uses()


def downgrade() -> None:
    op.drop_table("uses")
    op.drop_table("loans")
    op.drop_table("tool_events")
    op.drop_table("calibrations")
    with op.batch_alter_table("bays", table_kwargs={"sqlite_strict": True}) as bays:
        bays.drop_constraint(op.f("fk_bays_lift_tool"), type_="foreignkey")
        bays.drop_column("lift_tool")
    with op.batch_alter_table("tools", table_kwargs={"sqlite_strict": True}) as tools:
        tools.drop_constraint(op.f("ck_tools_kind"), type_="check")
        tools.create_check_constraint(op.f("ck_tools_kind"), _one_of("kind", KINDS))
        for name in ("cycles", "checked_on", "type"):
            tools.drop_column(name)


def _one_of(column: str, values: tuple[str, ...]) -> str:
    return f"{column} IN ({', '.join(repr(value) for value in values)})"


def _calibrations() -> None:
    op.create_table(
        "calibrations",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("tool", Words(), nullable=False),
        sa.Column("done_on", Day(), nullable=False),
        sa.Column("done_by", Words(), nullable=False),
        sa.Column("document", Words(), nullable=False),
        sa.Column("points", Words(), nullable=False),
        sa.Column("allowed_ppm", Whole(), nullable=False),
        sa.Column("passes", Flag(), nullable=False),
        sa.Column("adjusted", Flag(), nullable=False),
        sa.Column("due_on", Day(), nullable=True),
        sa.Column("certificate", Words(), nullable=False),
        sa.Column("certificate_name", Words(), nullable=False),
        sa.Column("entered_by", Words(), nullable=False),
        sa.Column("entered_at", Instant(), nullable=False),
        sa.Column("good_on", Day(), nullable=True),
        sa.CheckConstraint("passes IN (false, true)", name=op.f("ck_calibrations_passes")),
        sa.CheckConstraint("adjusted IN (false, true)", name=op.f("ck_calibrations_adjusted")),
        sa.ForeignKeyConstraint(["tool"], ["tools.id"], name=op.f("fk_calibrations_tool")),
        sa.ForeignKeyConstraint(["entered_by"], ["people.id"], name=op.f("fk_calibrations_entered_by")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_calibrations")),
        sa.UniqueConstraint("id", name=op.f("uq_calibrations_id")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_calibrations_tool"), "calibrations", ["tool"])


def _tool_events() -> None:
    op.create_table(
        "tool_events",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("tool", Words(), nullable=False),
        sa.Column("kind", Words(), nullable=False),
        sa.Column("words", Words(), nullable=False),
        sa.Column("torque_mnm", Whole(), nullable=True),
        sa.Column("torque_text", Words(), nullable=False),
        sa.Column("reported_by", Words(), nullable=False),
        sa.Column("reported_at", Instant(), nullable=False),
        sa.Column("seen_by", Words(), nullable=True),
        sa.Column("seen_at", Instant(), nullable=True),
        sa.Column("seen_words", Words(), nullable=False),
        sa.CheckConstraint(_one_of("kind", ("overload", "drop", "other")), name=op.f("ck_tool_events_kind")),
        sa.ForeignKeyConstraint(["tool"], ["tools.id"], name=op.f("fk_tool_events_tool")),
        sa.ForeignKeyConstraint(["reported_by"], ["people.id"], name=op.f("fk_tool_events_reported_by")),
        sa.ForeignKeyConstraint(["seen_by"], ["people.id"], name=op.f("fk_tool_events_seen_by")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_tool_events")),
        sa.UniqueConstraint("id", name=op.f("uq_tool_events_id")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_tool_events_tool"), "tool_events", ["tool"])


def _loans() -> None:
    op.create_table(
        "loans",
        sa.Column("position", Whole(), nullable=False),
        sa.Column("id", Words(), nullable=False),
        sa.Column("tool", Words(), nullable=False),
        sa.Column("person", Words(), nullable=False),
        sa.Column("taken_at", Instant(), nullable=False),
        sa.Column("given_back_at", Instant(), nullable=True),
        sa.ForeignKeyConstraint(["tool"], ["tools.id"], name=op.f("fk_loans_tool")),
        sa.ForeignKeyConstraint(["person"], ["people.id"], name=op.f("fk_loans_person")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_loans")),
        sa.UniqueConstraint("id", name=op.f("uq_loans_id")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_loans_tool"), "loans", ["tool"])


def _uses() -> None:
    op.create_table(
        "uses",
        sa.Column("order", Whole(), autoincrement=False, nullable=False),
        sa.Column("stage", Whole(), autoincrement=False, nullable=False),
        sa.Column("kind", Words(), nullable=False),
        sa.Column("job", Words(), nullable=False),
        sa.Column("step", Words(), nullable=False),
        sa.Column("fastener", Words(), nullable=False),
        sa.Column("place", Words(), nullable=False),
        sa.Column("tool", Words(), nullable=False),
        sa.Column("name", Words(), nullable=False),
        sa.Column("heard_at_ms", Whole(), nullable=False),
        sa.Column("reading", Whole(), nullable=False),
        sa.Column("text", Words(), nullable=False),
        sa.Column("value", Whole(), nullable=False),
        sa.Column("low", Whole(), nullable=True),
        sa.Column("high", Whole(), nullable=True),
        sa.Column("figure", Words(), nullable=False),
        sa.Column("replaced_by", Whole(), nullable=True),
        sa.PrimaryKeyConstraint("order", "stage", name=op.f("pk_uses")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_uses_tool_heard_at_ms_job"), "uses", ["tool", "heard_at_ms", "job"])
    op.create_index(op.f("ix_uses_figure_heard_at_ms"), "uses", ["figure", "heard_at_ms"])
    op.create_index(op.f("ix_uses_job_step_fastener"), "uses", ["job", "step", "fastener"])
