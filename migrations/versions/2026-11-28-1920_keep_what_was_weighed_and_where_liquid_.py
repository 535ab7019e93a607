"""keep what was weighed and where liquid went"""

import sqlalchemy as sa
from alembic import op

revision = "9a7e051e2c4d"
down_revision = "8c1e4f6a2d37"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "liquid_gone",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("tablet_id", sa.String(), nullable=False),
        sa.Column("rotation_id", sa.Integer(), nullable=True),
        sa.Column("went", sa.String(), nullable=False),
        sa.Column("gone_ul", sa.Integer(), nullable=False),
        sa.Column("typed", sa.String(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("reverses_id", sa.Integer(), nullable=True),
        sa.Column("gone_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("entered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("entered_by", sa.String(), nullable=False),
        sa.CheckConstraint(
            "went IN ('spilled', 'taken as a sample', 'let into a permitted drain')",
            name=op.f("ck_liquid_gone_went_is_known"),
        ),
        sa.CheckConstraint(
            "(gone_ul < 0) = (reverses_id IS NOT NULL)", name=op.f("ck_liquid_gone_less_takes_back")
        ),
        sa.CheckConstraint("gone_ul <> 0", name=op.f("ck_liquid_gone_some_liquid")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_liquid_gone_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["reverses_id"], ["liquid_gone.id"], name=op.f("fk_liquid_gone_reverses_id_liquid_gone")
        ),
        sa.ForeignKeyConstraint(
            ["rotation_id"], ["rotation.id"], name=op.f("fk_liquid_gone_rotation_id_rotation")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_liquid_gone")),
        sa.UniqueConstraint("lab_id", "tablet_id", name=op.f("uq_liquid_gone_lab_id_tablet_id")),
        sa.UniqueConstraint("reverses_id", name=op.f("uq_liquid_gone_reverses_id")),
    )
    with op.batch_alter_table("liquid_gone", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_liquid_gone_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_liquid_gone_rotation_id"), ["rotation_id"], unique=False)

    with op.batch_alter_table("water_drawn", schema=None) as batch_op:
        batch_op.add_column(sa.Column("reverses_id", sa.Integer(), nullable=True))
        batch_op.create_unique_constraint(batch_op.f("uq_water_drawn_reverses_id"), ["reverses_id"])
        batch_op.create_foreign_key(
            batch_op.f("fk_water_drawn_reverses_id_water_drawn"), "water_drawn", ["reverses_id"], ["id"]
        )
        batch_op.drop_constraint(op.f("ck_water_drawn_some_water"), type_="check")
        batch_op.create_check_constraint(op.f("ck_water_drawn_some_water"), "drawn_ul <> 0")
        batch_op.create_check_constraint(
            op.f("ck_water_drawn_less_takes_back"), "(drawn_ul < 0) = (reverses_id IS NOT NULL)"
        )

    with op.batch_alter_table("weighing", schema=None) as batch_op:
        batch_op.add_column(sa.Column("density_assumed", sa.Boolean(), nullable=False))
        batch_op.add_column(sa.Column("entries_ul", sa.BigInteger(), nullable=False))


def downgrade() -> None:
    op.execute("DELETE FROM water_drawn WHERE drawn_ul < 0")
    with op.batch_alter_table("weighing", schema=None) as batch_op:
        batch_op.drop_column("entries_ul")
        batch_op.drop_column("density_assumed")

    with op.batch_alter_table("water_drawn", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_water_drawn_less_takes_back"), type_="check")
        batch_op.drop_constraint(op.f("ck_water_drawn_some_water"), type_="check")
        batch_op.create_check_constraint(op.f("ck_water_drawn_some_water"), "drawn_ul > 0")
        batch_op.drop_constraint(batch_op.f("fk_water_drawn_reverses_id_water_drawn"), type_="foreignkey")
        batch_op.drop_constraint(batch_op.f("uq_water_drawn_reverses_id"), type_="unique")
        batch_op.drop_column("reverses_id")

    with op.batch_alter_table("liquid_gone", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_liquid_gone_rotation_id"))
        batch_op.drop_index(batch_op.f("ix_liquid_gone_lab_id"))

    op.drop_table("liquid_gone")
