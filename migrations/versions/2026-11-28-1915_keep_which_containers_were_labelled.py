"""keep which waste containers were labelled"""

import sqlalchemy as sa
from alembic import op

revision = "8c1e4f6a2d37"
down_revision = "f28faa12501e"
branch_labels = None
depends_on = None

ONE_OF_FOUR = (
    "CASE WHEN batch_id IS NULL THEN 0 ELSE 1 END + CASE WHEN charge_id IS NULL THEN 0 ELSE 1 END"
    " + CASE WHEN bottle_id IS NULL THEN 0 ELSE 1 END + CASE WHEN container_id IS NULL THEN 0 ELSE 1 END = 1"
)
ONE_OF_THREE = (
    "CASE WHEN batch_id IS NULL THEN 0 ELSE 1 END + CASE WHEN charge_id IS NULL THEN 0 ELSE 1 END"
    " + CASE WHEN bottle_id IS NULL THEN 0 ELSE 1 END = 1"
)


def upgrade() -> None:
    with op.batch_alter_table("waste_container", schema=None) as batch_op:
        batch_op.add_column(sa.Column("labelled_at", sa.DateTime(timezone=True), nullable=True))
    with op.batch_alter_table("printed_label", schema=None) as batch_op:
        batch_op.add_column(sa.Column("container_id", sa.Integer(), nullable=True))
        batch_op.create_index(batch_op.f("ix_printed_label_container_id"), ["container_id"], unique=False)
        batch_op.create_foreign_key(
            batch_op.f("fk_printed_label_container_id_waste_container"),
            "waste_container",
            ["container_id"],
            ["id"],
        )
        batch_op.drop_constraint(batch_op.f("ck_printed_label_is_of_one_thing"), type_="check")
        batch_op.create_check_constraint(batch_op.f("ck_printed_label_is_of_one_thing"), ONE_OF_FOUR)


def downgrade() -> None:
    op.execute("DELETE FROM printed_label WHERE container_id IS NOT NULL")
    with op.batch_alter_table("printed_label", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_printed_label_is_of_one_thing"), type_="check")
        batch_op.create_check_constraint(batch_op.f("ck_printed_label_is_of_one_thing"), ONE_OF_THREE)
        batch_op.drop_constraint(
            batch_op.f("fk_printed_label_container_id_waste_container"), type_="foreignkey"
        )
        batch_op.drop_index(batch_op.f("ix_printed_label_container_id"))
        batch_op.drop_column("container_id")
    with op.batch_alter_table("waste_container", schema=None) as batch_op:
        batch_op.drop_column("labelled_at")
