"""The spec book: figures of other kinds beside torques, the foreman's word on corrected ones, and files of figures.

Every figure that is there is a fastener's and stays what it was. Going back, figures of other kinds have no place.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from app.storage.columns import Flag, Instant, Whole, Words

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

KINDS = "'fastener', 'ride_height', 'alignment', 'play', 'spring', 'mass', 'wait'"
STRICT = {"sqlite_strict": True}
WORDS_ADDED = {"kind": "fastener", "tyre": "", "point": ""}
WHOLES_ADDED = ("low", "target", "high")


def upgrade() -> None:
    with op.batch_alter_table("figures", table_kwargs=STRICT) as figures:
        for name, before in WORDS_ADDED.items():
            figures.add_column(sa.Column(name, Words(), nullable=False, server_default=before))
        for name in WHOLES_ADDED:
            figures.add_column(sa.Column(name, Whole(), nullable=True))
        figures.add_column(sa.Column("replaced", Flag(), nullable=False, server_default=sa.false()))
    with op.batch_alter_table("figures", table_kwargs=STRICT) as figures:
        for name in WORDS_ADDED:
            figures.alter_column(name, existing_type=Words(), server_default=None)
        figures.alter_column("replaced", existing_type=Flag(), server_default=None)
        figures.create_check_constraint(op.f("ck_figures_kind"), f"kind IN ({KINDS})")
        figures.create_check_constraint(op.f("ck_figures_replaced"), "replaced IN (false, true)")
        figures.create_index(op.f("ix_figures_place_key"), ["place_key"])
    _choices()
    _imports()


def _choices() -> None:
    op.create_table(
        "figure_choices",
        sa.Column("position", Whole(), nullable=False),
        *(sa.Column(name, Words(), nullable=False) for name in ("id", "job", "figure", "newer", "asked_by")),
        sa.Column("asked_at", Instant(), nullable=False),
        sa.Column("choice", Words(), nullable=False),
        sa.Column("decided_by", Words(), nullable=True),
        sa.Column("decided_at", Instant(), nullable=True),
        sa.Column("reason", Words(), nullable=False),
        sa.CheckConstraint("choice IN ('asked', 'keep', 'renew')", name=op.f("ck_figure_choices_choice")),
        *(
            sa.ForeignKeyConstraint([column], [f"{table}.id"], name=op.f(f"fk_figure_choices_{column}"))
            for column, table in (
                ("job", "jobs"), ("figure", "figures"), ("newer", "figures"), ("asked_by", "people"),
                ("decided_by", "people"),
            )
        ),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_figure_choices")),
        sa.UniqueConstraint("id", name=op.f("uq_figure_choices_id")),
        sqlite_strict=True,
    )  # fmt: skip
    for column in ("job", "figure"):
        op.create_index(op.f(f"ix_figure_choices_{column}"), "figure_choices", [column])


def _imports() -> None:
    op.create_table(
        "figure_imports",
        sa.Column("position", Whole(), nullable=False),
        *(
            sa.Column(name, Words(), nullable=False)
            for name in ("id", "person", "file_name", "digest", "text", "note", "report")
        ),
        sa.Column("made_at", Instant(), nullable=False),
        sa.Column("done_at", Instant(), nullable=True),
        sa.ForeignKeyConstraint(["person"], ["people.id"], name=op.f("fk_figure_imports_person")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_figure_imports")),
        sa.UniqueConstraint("id", name=op.f("uq_figure_imports_id")),
        sqlite_strict=True,
    )
    for column in ("person", "digest"):
        op.create_index(op.f(f"ix_figure_imports_{column}"), "figure_imports", [column])


def downgrade() -> None:
    op.drop_table("figure_imports")
    op.drop_table("figure_choices")
    op.execute("DELETE FROM figures WHERE kind <> 'fastener'")
    with op.batch_alter_table("figures", table_kwargs=STRICT) as figures:
        figures.drop_index(op.f("ix_figures_place_key"))
        figures.drop_constraint(op.f("ck_figures_kind"), type_="check")
        figures.drop_constraint(op.f("ck_figures_replaced"), type_="check")
    with op.batch_alter_table("figures", table_kwargs=STRICT) as figures:
        for name in (*WORDS_ADDED, *WHOLES_ADDED, "replaced"):
            figures.drop_column(name)
