"""What jobs and vehicles are found by, reminders after a handback, and jobs that are comebacks.

What was there before is found once `python -m app migrate` (or `serve`) has made the texts: they are folded by the
product's own rules, which a migration does not know.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from app.storage.columns import Day, Instant, Whole, Words

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None

STRICT = {"sqlite_strict": True}
SHOP_ADDED = {"retorque_days": "14", "watch_months": "6", "watch_km": "10000", "comeback_days": "90"}
# The texts are lists of words in a-z and 0-9, so no parser and no dictionary has a say in what a word is.
LEXEMES = "array_to_tsvector(array_remove(string_to_array(words || ' ' || noted, ' '), ''))"


def upgrade() -> None:
    with op.batch_alter_table("shops", table_kwargs=STRICT) as shops:
        for name, before in SHOP_ADDED.items():
            shops.add_column(sa.Column(name, Whole(), nullable=False, server_default=before))
    with op.batch_alter_table("shops", table_kwargs=STRICT) as shops:
        for name in SHOP_ADDED:
            shops.alter_column(name, existing_type=Whole(), server_default=None)
    with op.batch_alter_table("jobs", table_kwargs=STRICT) as jobs:
        jobs.add_column(sa.Column("comeback_of", Words(), nullable=False, server_default=""))
    with op.batch_alter_table("jobs", table_kwargs=STRICT) as jobs:
        jobs.alter_column("comeback_of", existing_type=Words(), server_default=None)
    _reminders()
    _search()


def downgrade() -> None:
    if op.get_bind().dialect.name == "sqlite":
        op.execute("DROP TABLE search_index")
    op.drop_table("search_texts")
    op.drop_table("reminders")
    with op.batch_alter_table("jobs", table_kwargs=STRICT) as jobs:
        jobs.drop_column("comeback_of")
    with op.batch_alter_table("shops", table_kwargs=STRICT) as shops:
        for name in SHOP_ADDED:
            shops.drop_column(name)


def _reminders() -> None:
    op.create_table(
        "reminders",
        sa.Column("position", Whole(), nullable=False),
        *(sa.Column(name, Words(), nullable=False) for name in ("id", "job", "vehicle", "kind", "what")),
        sa.Column("due_on", Day(), nullable=False),
        sa.Column("due_km", Whole(), nullable=True),
        sa.Column("made_at", Instant(), nullable=False),
        sa.Column("done_at", Instant(), nullable=True),
        sa.Column("done_by", Words(), nullable=True),
        sa.Column("done_words", Words(), nullable=False),
        sa.CheckConstraint("kind IN ('retorque', 'calibrate', 'watch')", name=op.f("ck_reminders_kind")),
        *(
            sa.ForeignKeyConstraint([column], [f"{table}.id"], name=op.f(f"fk_reminders_{column}"))
            for column, table in (("job", "jobs"), ("vehicle", "vehicles"), ("done_by", "people"))
        ),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_reminders")),
        sa.UniqueConstraint("id", name=op.f("uq_reminders_id")),
        sqlite_strict=True,
    )
    for column in ("vehicle", "done_at"):
        op.create_index(op.f(f"ix_reminders_{column}"), "reminders", [column])


def _search() -> None:
    op.create_table(
        "search_texts",
        sa.Column("position", Whole(), nullable=False),
        *(sa.Column(name, Words(), nullable=False) for name in ("id", "vehicle", "job", "words", "noted")),
        sa.PrimaryKeyConstraint("position", name=op.f("pk_search_texts")),
        sa.UniqueConstraint("id", name=op.f("uq_search_texts_id")),
        sqlite_strict=True,
    )
    if op.get_bind().dialect.name != "sqlite":
        op.execute(f"CREATE INDEX ix_search_texts_words ON search_texts USING gin (({LEXEMES}))")
        return
    # External content and triggers as SQLite's FTS5 page describes (4.4.3); no positions are asked for (detail=none).
    op.execute(
        "CREATE VIRTUAL TABLE search_index USING fts5(words, noted, content='search_texts', content_rowid='position', "
        "tokenize='unicode61 remove_diacritics 2', prefix='2 3', detail=none)"
    )
    gone = (
        "INSERT INTO search_index (search_index, rowid, words, noted) "
        "VALUES ('delete', old.position, old.words, old.noted);"
    )
    come = "INSERT INTO search_index (rowid, words, noted) VALUES (new.position, new.words, new.noted);"
    for name, when, what in (
        ("inserted", "INSERT", come),
        ("deleted", "DELETE", gone),
        ("updated", "UPDATE OF position, words, noted", f"{gone} {come}"),
    ):
        op.execute(f"CREATE TRIGGER search_texts_{name} AFTER {when} ON search_texts BEGIN {what} END")
