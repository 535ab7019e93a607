"""add the times of a prep sheet, and who does its lines"""

import sqlalchemy as sa
from alembic import op

revision = "59c3fadd3924"
down_revision = "6397ac480ec9"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "prep_assignment",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("who", sa.String(), nullable=False),
        sa.CheckConstraint(
            "kind IN ('take out', 'weigh', 'mix', 'label', 'check a bath', 'pour', 'lay out', 'lasers', 'check the room', 'after class')",
            name=op.f("ck_prep_assignment_kind_is_known"),
        ),
        sa.CheckConstraint(
            "who IN ('technician', 'instructor', 'assistant')", name=op.f("ck_prep_assignment_who_is_known")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_prep_assignment_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_prep_assignment")),
        sa.UniqueConstraint("lab_id", "kind", name=op.f("uq_prep_assignment_lab_id_kind")),
    )
    with op.batch_alter_table("prep_assignment", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_prep_assignment_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "prep_times",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("lay_out_lead_s", sa.Integer(), nullable=False),
        sa.Column("measure_s", sa.Integer(), nullable=False),
        sa.Column("equalise_s", sa.Integer(), nullable=False),
        sa.Column("dark_s", sa.Integer(), nullable=False),
        sa.Column("opens_s", sa.Integer(), nullable=False),
        sa.Column("day_before_s", sa.Integer(), nullable=False),
        sa.Column("assumed", sa.Boolean(), nullable=False),
        sa.CheckConstraint("dark_s >= 0", name=op.f("ck_prep_times_dark_s_not_negative")),
        sa.CheckConstraint("day_before_s >= 0", name=op.f("ck_prep_times_day_before_s_not_negative")),
        sa.CheckConstraint("equalise_s >= 0", name=op.f("ck_prep_times_equalise_s_not_negative")),
        sa.CheckConstraint("lay_out_lead_s >= 0", name=op.f("ck_prep_times_lay_out_lead_s_not_negative")),
        sa.CheckConstraint("measure_s >= 0", name=op.f("ck_prep_times_measure_s_not_negative")),
        sa.CheckConstraint("opens_s >= 0", name=op.f("ck_prep_times_opens_s_not_negative")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_prep_times_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_prep_times")),
        sa.UniqueConstraint("lab_id", name=op.f("uq_prep_times_lab_id")),
    )
    with op.batch_alter_table("prep_times", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_prep_times_lab_id"), ["lab_id"], unique=False)

    with op.batch_alter_table("place", schema=None) as batch_op:
        batch_op.add_column(sa.Column("laser_warm_up_s", sa.Integer(), server_default="900", nullable=False))
        batch_op.create_check_constraint(
            op.f("ck_place_laser_warm_up_s_not_negative"), "laser_warm_up_s >= 0"
        )

    with op.batch_alter_table("usual_quantities", schema=None) as batch_op:
        batch_op.add_column(sa.Column("mix_lead_s", sa.Integer(), server_default="1200", nullable=False))
        batch_op.add_column(sa.Column("late_start_s", sa.Integer(), server_default="600", nullable=False))
        batch_op.add_column(sa.Column("change_s", sa.Integer(), server_default="180", nullable=False))


def downgrade() -> None:
    with op.batch_alter_table("usual_quantities", schema=None) as batch_op:
        batch_op.drop_column("change_s")
        batch_op.drop_column("late_start_s")
        batch_op.drop_column("mix_lead_s")

    with op.batch_alter_table("place", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_place_laser_warm_up_s_not_negative"), type_="check")
        batch_op.drop_column("laser_warm_up_s")

    with op.batch_alter_table("prep_times", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_prep_times_lab_id"))

    op.drop_table("prep_times")
    with op.batch_alter_table("prep_assignment", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_prep_assignment_lab_id"))

    op.drop_table("prep_assignment")
