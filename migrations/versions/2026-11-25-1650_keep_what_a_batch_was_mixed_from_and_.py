"""keep what a batch was mixed from and how it was checked"""

import sqlalchemy as sa
from alembic import op

revision = "0ef3ef808a6f"
down_revision = "ed8a04dd181e"
branch_labels = None
depends_on = None

KINDS = "kind IN ('mixed', 'drawn', 'charged', 'discarded', 'correction')"
KINDS_BEFORE = "kind IN ('mixed', 'charged', 'discarded', 'correction')"
DRAWN = "(kind = 'drawn') = (into_batch_number IS NOT NULL)"


def upgrade() -> None:
    op.create_table(
        "batch_check",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=False),
        sa.Column("ph_hundredths", sa.Integer(), nullable=True),
        sa.Column("temperature_decicelsius", sa.Integer(), nullable=True),
        sa.Column("look", sa.String(), nullable=False),
        sa.Column("passed", sa.Boolean(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("checked_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("checked_by", sa.String(), nullable=False),
        sa.CheckConstraint("ph_hundredths BETWEEN 0 AND 1400", name=op.f("ck_batch_check_ph_on_the_scale")),
        sa.CheckConstraint(
            "ph_hundredths IS NULL OR temperature_decicelsius IS NOT NULL",
            name=op.f("ck_batch_check_ph_has_a_temperature"),
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_batch_check_batch_id_batch")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_batch_check_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batch_check")),
    )
    with op.batch_alter_table("batch_check", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_batch_check_batch_id"), ["batch_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_batch_check_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "batch_override",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=False),
        sa.Column("until", sa.DateTime(timezone=True), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("decided_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("decided_by", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_batch_override_batch_id_batch")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_batch_override_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batch_override")),
    )
    with op.batch_alter_table("batch_override", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_batch_override_batch_id"), ["batch_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_batch_override_lab_id"), ["lab_id"], unique=False)

    # A batch that was mixed before is called what it is, stood no time before its use, and had no water added.
    with op.batch_alter_table("batch", schema=None) as batch_op:
        batch_op.add_column(sa.Column("name", sa.String(), nullable=True))
        batch_op.add_column(sa.Column("edition_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("water_ul", sa.Integer(), nullable=False, server_default="0"))
        batch_op.add_column(sa.Column("temperature_decicelsius", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("ready_at", sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column("failed_at", sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column("overridden_until", sa.DateTime(timezone=True), nullable=True))
    op.execute("UPDATE batch SET name = solution, ready_at = mixed_at")
    with op.batch_alter_table("batch", schema=None) as batch_op:
        batch_op.alter_column("name", existing_type=sa.String(), nullable=False)
        batch_op.alter_column("ready_at", existing_type=sa.DateTime(timezone=True), nullable=False)
        batch_op.alter_column("water_ul", existing_type=sa.Integer(), server_default=None)
        batch_op.create_check_constraint(op.f("ck_batch_water_ul_not_negative"), "water_ul >= 0")
        batch_op.create_index(batch_op.f("ix_batch_edition_id"), ["edition_id"], unique=False)
        batch_op.create_foreign_key(
            batch_op.f("fk_batch_edition_id_recipe_edition"), "recipe_edition", ["edition_id"], ["id"]
        )

    with op.batch_alter_table("batch_entry", schema=None) as batch_op:
        batch_op.add_column(sa.Column("into_batch_number", sa.Integer(), nullable=True))
        batch_op.create_index(
            batch_op.f("ix_batch_entry_into_batch_number"), ["into_batch_number"], unique=False
        )
        batch_op.drop_constraint(op.f("ck_batch_entry_kind_is_known"), type_="check")
        batch_op.create_check_constraint(op.f("ck_batch_entry_kind_is_known"), KINDS)
        batch_op.create_check_constraint(op.f("ck_batch_entry_drawn_into_a_batch"), DRAWN)

    with op.batch_alter_table("usual_quantities", schema=None) as batch_op:
        batch_op.add_column(sa.Column("stock_life_s", sa.Integer(), nullable=False, server_default="5184000"))
        batch_op.add_column(sa.Column("other_life_s", sa.Integer(), nullable=False, server_default="86400"))
    with op.batch_alter_table("usual_quantities", schema=None) as batch_op:
        batch_op.alter_column("stock_life_s", existing_type=sa.Integer(), server_default=None)
        batch_op.alter_column("other_life_s", existing_type=sa.Integer(), server_default=None)


def downgrade() -> None:
    with op.batch_alter_table("usual_quantities", schema=None) as batch_op:
        batch_op.drop_column("other_life_s")
        batch_op.drop_column("stock_life_s")

    with op.batch_alter_table("batch_entry", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_batch_entry_drawn_into_a_batch"), type_="check")
        batch_op.drop_constraint(op.f("ck_batch_entry_kind_is_known"), type_="check")
        batch_op.create_check_constraint(op.f("ck_batch_entry_kind_is_known"), KINDS_BEFORE)
        batch_op.drop_index(batch_op.f("ix_batch_entry_into_batch_number"))
        batch_op.drop_column("into_batch_number")

    with op.batch_alter_table("batch", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("fk_batch_edition_id_recipe_edition"), type_="foreignkey")
        batch_op.drop_index(batch_op.f("ix_batch_edition_id"))
        batch_op.drop_constraint(op.f("ck_batch_water_ul_not_negative"), type_="check")
        batch_op.drop_column("overridden_until")
        batch_op.drop_column("failed_at")
        batch_op.drop_column("ready_at")
        batch_op.drop_column("temperature_decicelsius")
        batch_op.drop_column("water_ul")
        batch_op.drop_column("edition_id")
        batch_op.drop_column("name")

    with op.batch_alter_table("batch_override", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_batch_override_lab_id"))
        batch_op.drop_index(batch_op.f("ix_batch_override_batch_id"))

    op.drop_table("batch_override")
    with op.batch_alter_table("batch_check", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_batch_check_lab_id"))
        batch_op.drop_index(batch_op.f("ix_batch_check_batch_id"))

    op.drop_table("batch_check")
