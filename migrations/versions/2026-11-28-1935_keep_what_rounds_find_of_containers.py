"""keep what rounds find of waste containers, and how an eyewash ran"""

import sqlalchemy as sa
from alembic import op

revision = "b3a97e05c1d4"
down_revision = "9a7e051e2c4d"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("safety_round", schema=None) as batch_op:
        batch_op.add_column(sa.Column("tablet_id", sa.String(), nullable=True))
        batch_op.add_column(sa.Column("ran_s", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("water_felt", sa.String(), nullable=True))
        batch_op.create_unique_constraint(
            batch_op.f("uq_safety_round_lab_id_tablet_id"), ["lab_id", "tablet_id"]
        )
        batch_op.create_check_constraint(op.f("ck_safety_round_ran_for_a_while"), "ran_s > 0")
        batch_op.create_check_constraint(
            op.f("ck_safety_round_water_felt_is_known"), "water_felt IN ('tepid', 'cold', 'hot')"
        )
    op.create_table(
        "shelf_finding",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("safety_round_id", sa.Integer(), nullable=False),
        sa.Column("container_id", sa.Integer(), nullable=False),
        sa.Column("point", sa.String(), nullable=False),
        sa.Column("found", sa.String(), nullable=False),
        sa.Column("put_right_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("put_right_by", sa.String(), nullable=False),
        sa.Column("put_right_how", sa.String(), nullable=False),
        sa.CheckConstraint(
            "point IN ('closed', 'label', 'leak', 'upright', 'fill line', 'apart')",
            name=op.f("ck_shelf_finding_point_is_known"),
        ),
        sa.CheckConstraint(
            "put_right_at IS NULL OR found <> ''",
            name=op.f("ck_shelf_finding_only_what_was_found_is_put_right"),
        ),
        sa.ForeignKeyConstraint(
            ["container_id"],
            ["waste_container.id"],
            name=op.f("fk_shelf_finding_container_id_waste_container"),
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_shelf_finding_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["safety_round_id"],
            ["safety_round.id"],
            name=op.f("fk_shelf_finding_safety_round_id_safety_round"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shelf_finding")),
        sa.UniqueConstraint(
            "safety_round_id",
            "container_id",
            "point",
            name=op.f("uq_shelf_finding_safety_round_id_container_id_point"),
        ),
    )
    with op.batch_alter_table("shelf_finding", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_shelf_finding_container_id"), ["container_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_shelf_finding_lab_id"), ["lab_id"], unique=False)
    with op.batch_alter_table("container_event", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_container_event_container_id"))
        batch_op.create_index("ix_container_event_of_container", ["container_id", "id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("container_event", schema=None) as batch_op:
        batch_op.drop_index("ix_container_event_of_container")
        batch_op.create_index(batch_op.f("ix_container_event_container_id"), ["container_id"], unique=False)
    op.drop_table("shelf_finding")
    with op.batch_alter_table("safety_round", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_safety_round_water_felt_is_known"), type_="check")
        batch_op.drop_constraint(op.f("ck_safety_round_ran_for_a_while"), type_="check")
        batch_op.drop_constraint(batch_op.f("uq_safety_round_lab_id_tablet_id"), type_="unique")
        batch_op.drop_column("water_felt")
        batch_op.drop_column("ran_s")
        batch_op.drop_column("tablet_id")
