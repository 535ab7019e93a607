"""add everything real to the question

Columns are added with their constraints in the same statement, which both databases take: copying a table, as SQLite otherwise
needs for a constraint, would lose the checks it has.
"""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "c5ba54972a9f"
down_revision = "f0952692cd3a"
branch_labels = None
depends_on = None

COUNTS = (
    ("light_zone", "afterglow_s", 0),
    ("rotation", "talk_s", 0),
    ("rotation", "clean_up_s", 0),
    ("rotation", "plates_per_group", 1),
    ("rotation", "reserve_rounds", 0),
)


def _table(
    name: str, parent: str, *columns: sa.Column[Any], checks: tuple[tuple[str, str], ...] = ()
) -> None:
    key = f"{parent.removeprefix('rotation_')}_id"
    op.create_table(
        name,
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column(key, sa.Integer(), nullable=False),
        *columns,
        *(sa.CheckConstraint(rule, name=op.f(f"ck_{name}_{check}")) for check, rule in checks),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f(f"fk_{name}_lab_id_lab")),
        sa.ForeignKeyConstraint([key], [f"{parent}.id"], name=op.f(f"fk_{name}_{key}_{parent}")),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{name}")),
    )
    op.create_index(op.f(f"ix_{name}_lab_id"), name, ["lab_id"])
    op.create_index(op.f(f"ix_{name}_{key}"), name, [key])


def upgrade() -> None:
    for table, column, usual in COUNTS:
        op.execute(
            f"ALTER TABLE {table} ADD COLUMN {column} INTEGER DEFAULT '{usual}' NOT NULL "
            f"CONSTRAINT ck_{table}_{column}_not_negative CHECK ({column} >= 0)"
        )
    op.add_column("rotation", sa.Column("class_file", sa.String(), nullable=True))
    op.execute(
        "ALTER TABLE group_plates ADD COLUMN tied_place_id INTEGER "
        "CONSTRAINT fk_group_plates_tied_place_id_place REFERENCES place (id)"
    )
    op.create_index(op.f("ix_group_plates_tied_place_id"), "group_plates", ["tied_place_id"])
    _table(
        "period_break",
        "period",
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("starts_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=False),
        checks=(("ends_after_it_starts", "ends_at > starts_at"),),
    )
    _table(
        "rotation_mix",
        "rotation",
        sa.Column("mixed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("life_s", sa.Integer(), nullable=False),
        sa.Column("plates", sa.Integer(), nullable=True),
        checks=(("has_a_life", "life_s > 0"), ("serves_a_plate", "plates > 0")),
    )
    _table(
        "named_visit",
        "rotation_plan",
        sa.Column("group_name", sa.String(), nullable=False),
        sa.Column("pass_no", sa.Integer(), nullable=False),
        sa.Column("step", sa.String(), nullable=False),
        sa.Column("place", sa.String(), nullable=False),
        sa.Column("light", sa.String(), nullable=False),
        sa.Column("still", sa.String(), nullable=False),
        sa.Column("starts_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=False),
    )


def downgrade() -> None:
    for table in ("named_visit", "rotation_mix", "period_break"):
        op.drop_table(table)
    op.drop_index(op.f("ix_group_plates_tied_place_id"), table_name="group_plates")
    op.drop_column("group_plates", "tied_place_id")
    op.drop_column("rotation", "class_file")
    for table, column, _usual in reversed(COUNTS):
        op.drop_column(table, column)
