"""say what each bottle of a kit holds"""

import sqlalchemy as sa
from alembic import op

revision = "a85b00f18f20"
down_revision = "ea827d20810b"
branch_labels = None
depends_on = None


SUBSTANCES = "substance IN ('stock A', 'stock B', 'bleach')"


def upgrade() -> None:
    op.create_table(
        "safety_sheet",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("added_by", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_safety_sheet_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_safety_sheet")),
    )
    with op.batch_alter_table("safety_sheet", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_safety_sheet_lab_id"), ["lab_id"], unique=False)

    # Until now every bottle held a solution, measured in microlitres; the figures stay what they are.
    with op.batch_alter_table("bottle", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_bottle_substance_is_known"), type_="check")
        batch_op.drop_constraint(op.f("ck_bottle_left_ul_not_negative"), type_="check")
        batch_op.alter_column("left_ul", new_column_name="left", existing_type=sa.Integer())
        batch_op.add_column(sa.Column("measure", sa.String(), nullable=False, server_default="volume"))
        batch_op.add_column(sa.Column("formula", sa.String(), nullable=False, server_default=""))
        batch_op.add_column(sa.Column("purity_ppm", sa.Integer(), nullable=False, server_default="1000000"))
        batch_op.add_column(sa.Column("density_ug_per_ul", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("lot", sa.String(), nullable=False, server_default=""))
        batch_op.add_column(sa.Column("hazards", sa.String(), nullable=False, server_default=""))
        batch_op.add_column(sa.Column("sds_link", sa.String(), nullable=False, server_default=""))
        batch_op.add_column(sa.Column("sheet_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("opened_at", sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column("used_up_at", sa.DateTime(timezone=True), nullable=True))
    with op.batch_alter_table("bottle", schema=None) as batch_op:
        for column in ("measure", "formula", "lot", "hazards", "sds_link"):
            batch_op.alter_column(column, existing_type=sa.String(), server_default=None)
        batch_op.alter_column("purity_ppm", existing_type=sa.Integer(), server_default=None)
        batch_op.create_check_constraint(op.f("ck_bottle_measure_is_known"), "measure IN ('mass', 'volume')")
        batch_op.create_check_constraint(op.f("ck_bottle_left_not_negative"), '"left" >= 0')
        batch_op.create_check_constraint(
            op.f("ck_bottle_purity_is_a_share"), "purity_ppm BETWEEN 1 AND 1000000"
        )
        batch_op.create_check_constraint(op.f("ck_bottle_has_a_density"), "density_ug_per_ul > 0")
        batch_op.create_index(batch_op.f("ix_bottle_sheet_id"), ["sheet_id"], unique=False)
        batch_op.create_foreign_key(
            batch_op.f("fk_bottle_sheet_id_safety_sheet"), "safety_sheet", ["sheet_id"], ["id"]
        )

    with op.batch_alter_table("bottle_entry", schema=None) as batch_op:
        batch_op.alter_column("change_ul", new_column_name="change", existing_type=sa.Integer())

    # A bottle was opened by its first draw, and is used up since the entry that left nothing.
    op.execute(
        "UPDATE bottle SET opened_at = (SELECT MIN(entered_at) FROM bottle_entry "
        "WHERE bottle_entry.bottle_id = bottle.id AND bottle_entry.kind = 'mixed')"
    )
    op.execute(
        "UPDATE bottle SET used_up_at = (SELECT MAX(entered_at) FROM bottle_entry "
        'WHERE bottle_entry.bottle_id = bottle.id) WHERE "left" = 0'
    )

    with op.batch_alter_table("kit", schema=None) as batch_op:
        batch_op.add_column(sa.Column("store_from_decicelsius", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("store_to_decicelsius", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("makes_ul", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("lead_days", sa.Integer(), nullable=False, server_default="14"))
    with op.batch_alter_table("kit", schema=None) as batch_op:
        batch_op.alter_column("lead_days", existing_type=sa.Integer(), server_default=None)
        batch_op.create_check_constraint(op.f("ck_kit_lead_days_not_negative"), "lead_days >= 0")
        batch_op.create_check_constraint(op.f("ck_kit_makes_something"), "makes_ul > 0")


def downgrade() -> None:
    with op.batch_alter_table("kit", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_kit_makes_something"), type_="check")
        batch_op.drop_constraint(op.f("ck_kit_lead_days_not_negative"), type_="check")
        batch_op.drop_column("lead_days")
        batch_op.drop_column("makes_ul")
        batch_op.drop_column("store_to_decicelsius")
        batch_op.drop_column("store_from_decicelsius")

    with op.batch_alter_table("bottle_entry", schema=None) as batch_op:
        batch_op.alter_column("change", new_column_name="change_ul", existing_type=sa.Integer())

    with op.batch_alter_table("bottle", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("fk_bottle_sheet_id_safety_sheet"), type_="foreignkey")
        batch_op.drop_index(op.f("ix_bottle_sheet_id"))
        batch_op.drop_constraint(op.f("ck_bottle_has_a_density"), type_="check")
        batch_op.drop_constraint(op.f("ck_bottle_purity_is_a_share"), type_="check")
        batch_op.drop_constraint(op.f("ck_bottle_left_not_negative"), type_="check")
        batch_op.drop_constraint(op.f("ck_bottle_measure_is_known"), type_="check")
        for column in (
            "used_up_at",
            "opened_at",
            "sheet_id",
            "sds_link",
            "hazards",
            "lot",
            "density_ug_per_ul",
            "purity_ppm",
            "formula",
            "measure",
        ):
            batch_op.drop_column(column)
        batch_op.alter_column("left", new_column_name="left_ul", existing_type=sa.Integer())
    with op.batch_alter_table("bottle", schema=None) as batch_op:
        batch_op.create_check_constraint(op.f("ck_bottle_left_ul_not_negative"), "left_ul >= 0")
        batch_op.create_check_constraint(op.f("ck_bottle_substance_is_known"), SUBSTANCES)

    op.drop_table("safety_sheet")
