"""add activities"""

import sqlalchemy as sa
from alembic import op

revision = "2d59dd28c4d7"
down_revision = "9e10e4622a95"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "activity",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("shortest_s", sa.Integer(), nullable=False),
        sa.Column("longest_s", sa.Integer(), nullable=False),
        sa.Column("repeatable", sa.Boolean(), nullable=False),
        sa.Column("at_once", sa.Integer(), nullable=True),
        sa.Column("light_zone_id", sa.Integer(), nullable=True),
        sa.Column("light", sa.String(), nullable=False),
        sa.Column("still_zone_id", sa.Integer(), nullable=True),
        sa.Column("still", sa.String(), nullable=False),
        sa.Column("opens", sa.Boolean(), nullable=False),
        sa.Column("is_assumed", sa.Boolean(), nullable=False),
        sa.CheckConstraint("light IN ('dark', 'lit', 'any')", name=op.f("ck_activity_light_is_known")),
        sa.CheckConstraint("still IN ('still', 'moves', 'any')", name=op.f("ck_activity_still_is_known")),
        sa.CheckConstraint("at_once >= 1", name=op.f("ck_activity_one_group_at_least")),
        sa.CheckConstraint("longest_s >= shortest_s", name=op.f("ck_activity_longest_is_not_shorter")),
        sa.CheckConstraint("shortest_s >= 60", name=op.f("ck_activity_lasts_a_minute")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_activity_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["light_zone_id"], ["light_zone.id"], name=op.f("fk_activity_light_zone_id_light_zone")
        ),
        sa.ForeignKeyConstraint(
            ["still_zone_id"], ["still_zone.id"], name=op.f("fk_activity_still_zone_id_still_zone")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_activity")),
        sa.UniqueConstraint("lab_id", "name", name=op.f("uq_activity_lab_id_name")),
    )
    with op.batch_alter_table("activity", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_activity_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_activity_light_zone_id"), ["light_zone_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_activity_still_zone_id"), ["still_zone_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("activity", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_activity_still_zone_id"))
        batch_op.drop_index(batch_op.f("ix_activity_light_zone_id"))
        batch_op.drop_index(batch_op.f("ix_activity_lab_id"))

    op.drop_table("activity")
