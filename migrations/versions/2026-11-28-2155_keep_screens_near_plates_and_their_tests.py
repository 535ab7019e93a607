"""keep screens near plates and their tests"""

import sqlalchemy as sa
from alembic import op

revision = "04aea09a4b84"
down_revision = "b58f0c6d91e7"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "screen",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("device", sa.String(), nullable=False),
        sa.Column("named_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("named_by", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_screen_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_screen")),
        sa.UniqueConstraint("device", name=op.f("uq_screen_device")),
        sa.UniqueConstraint("lab_id", "name", name=op.f("uq_screen_lab_id_name")),
    )
    with op.batch_alter_table("screen", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_screen_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "screen_test",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("screen_id", sa.Integer(), nullable=False),
        sa.Column("plate_box_id", sa.Integer(), nullable=False),
        sa.Column("colour", sa.String(), nullable=False),
        sa.Column("level", sa.Integer(), nullable=False),
        sa.Column("stage", sa.String(), nullable=False),
        sa.Column("distance_mm", sa.Integer(), nullable=False),
        sa.Column("step_s", sa.Integer(), nullable=False),
        sa.Column("last_clear_s", sa.Integer(), nullable=False),
        sa.Column("made_on", sa.Date(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("noted_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("noted_by", sa.String(), nullable=False),
        sa.CheckConstraint("colour IN ('green', 'red')", name=op.f("ck_screen_test_colour_is_known")),
        sa.CheckConstraint(
            "stage IN ('before exposure', 'after exposure')", name=op.f("ck_screen_test_stage_is_known")
        ),
        sa.CheckConstraint("last_clear_s >= 0", name=op.f("ck_screen_test_last_clear_s_not_negative")),
        sa.CheckConstraint("level BETWEEN 1 AND 4", name=op.f("ck_screen_test_level_is_known")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_screen_test_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["plate_box_id"], ["plate_box.id"], name=op.f("fk_screen_test_plate_box_id_plate_box")
        ),
        sa.ForeignKeyConstraint(["screen_id"], ["screen.id"], name=op.f("fk_screen_test_screen_id_screen")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_screen_test")),
    )
    with op.batch_alter_table("screen_test", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_screen_test_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_screen_test_plate_box_id"), ["plate_box_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_screen_test_screen_id"), ["screen_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("screen_test", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_screen_test_screen_id"))
        batch_op.drop_index(batch_op.f("ix_screen_test_plate_box_id"))
        batch_op.drop_index(batch_op.f("ix_screen_test_lab_id"))

    op.drop_table("screen_test")
    with op.batch_alter_table("screen", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_screen_lab_id"))

    op.drop_table("screen")
