"""keep more of a run note, and the slips of plates left to dry"""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "5fbe55db09fe"
down_revision = "4c19d7e2ab36"
branch_labels = None
depends_on = None

KINDS_BEFORE = "kind IN ('station', 'tray', 'dryer', 'bench')"
KINDS = "kind IN ('station', 'tray', 'dryer', 'bench', 'rack')"
# What earlier notes do not say stays unsaid.
COLUMNS: dict[str, sa.types.TypeEngine[Any]] = {
    "plate_no": sa.Integer(),
    "planned_settle_s": sa.Integer(),
    "planned_exposure_s": sa.Integer(),
    "emulsion_by": sa.String(),
    "filed_by": sa.String(),
    "object_kind": sa.String(),
    "object_tone": sa.String(),
    "bleach_clear_s": sa.Integer(),
    "darkening": sa.String(),
    "replay_colour": sa.String(),
}
CHECKS = {
    "object_kind": "'coin', 'key', 'figure', 'other'",
    "object_tone": "'pale', 'shiny', 'dark'",
    "darkening": "'stayed clear', 'pale', 'normal', 'too dark'",
    "replay_colour": "'red', 'orange', 'yellow', 'green', 'blue', 'several'",
}
HERE = sa.text("handed_out_at IS NULL")


def upgrade() -> None:
    with op.batch_alter_table("place", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_place_kind_is_known"), type_="check")
        batch_op.create_check_constraint(op.f("ck_place_kind_is_known"), KINDS)

    with op.batch_alter_table("run", schema=None) as batch_op:
        for name, kind in COLUMNS.items():
            batch_op.add_column(sa.Column(name, kind, nullable=True))
        batch_op.add_column(sa.Column("defects", sa.String(), server_default=sa.text("''"), nullable=False))
    with op.batch_alter_table("run", schema=None) as batch_op:
        for name, words in CHECKS.items():
            batch_op.create_check_constraint(op.f(f"ck_run_{name}_is_known"), f"{name} IN ({words})")

    op.create_table(
        "claim_slip",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("place_id", sa.Integer(), nullable=False),
        sa.Column("slot", sa.Integer(), nullable=False),
        sa.Column("left_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("left_by", sa.String(), nullable=False),
        sa.Column("handed_out_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("handed_out_by", sa.String(), nullable=False),
        sa.CheckConstraint("slot >= 1", name=op.f("ck_claim_slip_slot_from_1")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_claim_slip_lab_id_lab")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_claim_slip_place_id_place")),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_claim_slip_run_id_run")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_claim_slip")),
        sa.UniqueConstraint("run_id", name=op.f("uq_claim_slip_run_id")),
    )
    with op.batch_alter_table("claim_slip", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_claim_slip_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(
            "ix_claim_slip_one_plate_a_slot",
            ["place_id", "slot"],
            unique=True,
            sqlite_where=HERE,
            postgresql_where=HERE,
        )
        batch_op.create_index(batch_op.f("ix_claim_slip_place_id"), ["place_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("claim_slip", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_claim_slip_place_id"))
        batch_op.drop_index("ix_claim_slip_one_plate_a_slot")
        batch_op.drop_index(batch_op.f("ix_claim_slip_lab_id"))
    op.drop_table("claim_slip")

    with op.batch_alter_table("run", schema=None) as batch_op:
        for name in CHECKS:
            batch_op.drop_constraint(op.f(f"ck_run_{name}_is_known"), type_="check")
    with op.batch_alter_table("run", schema=None) as batch_op:
        batch_op.drop_column("defects")
        for name in COLUMNS:
            batch_op.drop_column(name)

    op.execute("UPDATE place SET kind = 'bench' WHERE kind = 'rack'")
    with op.batch_alter_table("place", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_place_kind_is_known"), type_="check")
        batch_op.create_check_constraint(op.f("ck_place_kind_is_known"), KINDS_BEFORE)
