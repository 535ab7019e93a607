"""keep which labels were printed"""

import sqlalchemy as sa
from alembic import op

revision = "61f2946f14e0"
down_revision = "a85b00f18f20"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "printed_label",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=True),
        sa.Column("charge_id", sa.Integer(), nullable=True),
        sa.Column("bottle_id", sa.Integer(), nullable=True),
        sa.Column("format", sa.String(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("printed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("printed_by", sa.String(), nullable=False),
        sa.CheckConstraint(
            "CASE WHEN batch_id IS NULL THEN 0 ELSE 1 END + CASE WHEN charge_id IS NULL THEN 0 ELSE 1 END + CASE WHEN bottle_id IS NULL THEN 0 ELSE 1 END = 1",
            name=op.f("ck_printed_label_is_of_one_thing"),
        ),
        sa.CheckConstraint("place >= 1", name=op.f("ck_printed_label_has_a_place")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_printed_label_batch_id_batch")),
        sa.ForeignKeyConstraint(["bottle_id"], ["bottle.id"], name=op.f("fk_printed_label_bottle_id_bottle")),
        sa.ForeignKeyConstraint(["charge_id"], ["charge.id"], name=op.f("fk_printed_label_charge_id_charge")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_printed_label_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_printed_label")),
    )
    with op.batch_alter_table("printed_label", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_printed_label_batch_id"), ["batch_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_printed_label_bottle_id"), ["bottle_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_printed_label_charge_id"), ["charge_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_printed_label_lab_id"), ["lab_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("printed_label", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_printed_label_lab_id"))
        batch_op.drop_index(batch_op.f("ix_printed_label_charge_id"))
        batch_op.drop_index(batch_op.f("ix_printed_label_bottle_id"))
        batch_op.drop_index(batch_op.f("ix_printed_label_batch_id"))

    op.drop_table("printed_label")
