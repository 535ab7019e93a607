"""Add what is known of the term: classes to come, orders on their way, how sure the lab wants to be."""

import sqlalchemy as sa
from alembic import op

revision = "6397ac480ec9"
down_revision = "ac761fe5aa11"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "reserve_choice",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("percent", sa.Integer(), nullable=False),
        sa.CheckConstraint("percent IN (90, 95)", name=op.f("ck_reserve_choice_percent_is_known")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_reserve_choice_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reserve_choice")),
        sa.UniqueConstraint("lab_id", name=op.f("uq_reserve_choice_lab_id")),
    )
    with op.batch_alter_table("reserve_choice", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_reserve_choice_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "supply_order",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("amount", sa.Integer(), nullable=False),
        sa.Column("expected_on", sa.Date(), nullable=False),
        sa.Column("ordered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ordered_by", sa.String(), nullable=False),
        sa.Column("closed_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("amount > 0", name=op.f("ck_supply_order_is_of_something")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_supply_order_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supply_order")),
    )
    with op.batch_alter_table("supply_order", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_supply_order_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "classes_ahead",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("section_id", sa.Integer(), nullable=True),
        sa.Column("first_day", sa.Date(), nullable=False),
        sa.Column("last_day", sa.Date(), nullable=False),
        sa.Column("every_days", sa.Integer(), nullable=False),
        sa.Column("groups", sa.Integer(), nullable=False),
        sa.Column("plates_per_group", sa.Integer(), nullable=False),
        sa.Column("other_plates", sa.Integer(), nullable=False),
        sa.Column("entered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("entered_by", sa.String(), nullable=False),
        sa.CheckConstraint("every_days > 0", name=op.f("ck_classes_ahead_comes_again")),
        sa.CheckConstraint("groups >= 0", name=op.f("ck_classes_ahead_groups_not_negative")),
        sa.CheckConstraint(
            "last_day >= first_day", name=op.f("ck_classes_ahead_ends_when_it_begins_or_later")
        ),
        sa.CheckConstraint("other_plates >= 0", name=op.f("ck_classes_ahead_other_plates_not_negative")),
        sa.CheckConstraint(
            "plates_per_group >= 0", name=op.f("ck_classes_ahead_plates_per_group_not_negative")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_classes_ahead_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["section_id"], ["section.id"], name=op.f("fk_classes_ahead_section_id_section")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_classes_ahead")),
    )
    with op.batch_alter_table("classes_ahead", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_classes_ahead_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_classes_ahead_section_id"), ["section_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("classes_ahead", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_classes_ahead_section_id"))
        batch_op.drop_index(batch_op.f("ix_classes_ahead_lab_id"))

    op.drop_table("classes_ahead")
    with op.batch_alter_table("supply_order", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_supply_order_lab_id"))

    op.drop_table("supply_order")
    with op.batch_alter_table("reserve_choice", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_reserve_choice_lab_id"))

    op.drop_table("reserve_choice")
