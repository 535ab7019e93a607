"""keep what the waste office said of a container, what stands on the site, and what trays hold"""

import sqlalchemy as sa
from alembic import op

revision = "8a7e31f0c5d6"
down_revision = "b3a97e05c1d4"
branch_labels = None
depends_on = None

COUNTS_AS = "counts_as IN ('non-acute', 'acute liquid', 'acute solid')"


def upgrade() -> None:
    op.create_table(
        "area_tray",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("area_id", sa.Integer(), nullable=False),
        sa.Column("tray_ul", sa.Integer(), nullable=False),
        sa.Column("entered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("entered_by", sa.String(), nullable=False),
        sa.CheckConstraint("tray_ul > 0", name=op.f("ck_area_tray_holds_something")),
        sa.ForeignKeyConstraint(["area_id"], ["waste_area.id"], name=op.f("fk_area_tray_area_id_waste_area")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_area_tray_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_area_tray")),
    )
    with op.batch_alter_table("area_tray") as batch_op:
        batch_op.create_index(op.f("ix_area_tray_area_id"), ["area_id"], unique=False)
        batch_op.create_index(op.f("ix_area_tray_lab_id"), ["lab_id"], unique=False)
    op.create_table(
        "stream_counting",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("stream_id", sa.Integer(), nullable=False),
        sa.Column("counts_as", sa.String(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("entered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("entered_by", sa.String(), nullable=False),
        sa.CheckConstraint(COUNTS_AS, name=op.f("ck_stream_counting_counts_as_is_known")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_stream_counting_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["stream_id"], ["stream.id"], name=op.f("fk_stream_counting_stream_id_stream")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stream_counting")),
    )
    with op.batch_alter_table("stream_counting") as batch_op:
        batch_op.create_index(op.f("ix_stream_counting_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(op.f("ix_stream_counting_stream_id"), ["stream_id"], unique=False)
    with op.batch_alter_table("determination") as batch_op:
        batch_op.add_column(sa.Column("held_ul", sa.Integer(), server_default="0", nullable=False))
        batch_op.add_column(sa.Column("held_mg", sa.BigInteger(), server_default="0", nullable=False))
        batch_op.add_column(sa.Column("said", sa.String(), server_default="", nullable=False))
        batch_op.create_check_constraint(op.f("ck_determination_held_ul_not_negative"), "held_ul >= 0")
        batch_op.create_check_constraint(op.f("ck_determination_held_mg_not_negative"), "held_mg >= 0")
    with op.batch_alter_table("determination") as batch_op:
        batch_op.alter_column("said", server_default=None)
    with op.batch_alter_table("site_month") as batch_op:
        batch_op.add_column(sa.Column("on_site_mg", sa.BigInteger(), nullable=True))
        batch_op.add_column(sa.Column("reached_on", sa.Date(), nullable=True))
        batch_op.create_check_constraint(op.f("ck_site_month_on_site_mg_not_negative"), "on_site_mg >= 0")
    with op.batch_alter_table("waste_container") as batch_op:
        batch_op.add_column(sa.Column("carried_at", sa.DateTime(timezone=True), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("waste_container") as batch_op:
        batch_op.drop_column("carried_at")
    with op.batch_alter_table("site_month") as batch_op:
        batch_op.drop_constraint(op.f("ck_site_month_on_site_mg_not_negative"), type_="check")
        batch_op.drop_column("reached_on")
        batch_op.drop_column("on_site_mg")
    with op.batch_alter_table("determination") as batch_op:
        batch_op.drop_constraint(op.f("ck_determination_held_mg_not_negative"), type_="check")
        batch_op.drop_constraint(op.f("ck_determination_held_ul_not_negative"), type_="check")
        batch_op.drop_column("said")
        batch_op.drop_column("held_mg")
        batch_op.drop_column("held_ul")
    op.drop_table("stream_counting")
    op.drop_table("area_tray")
