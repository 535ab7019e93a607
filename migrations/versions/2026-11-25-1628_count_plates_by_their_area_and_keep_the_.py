"""count plates by their area and keep the parts of a charge"""

import sqlalchemy as sa
from alembic import op

revision = "ed8a04dd181e"
down_revision = "61f2946f14e0"
branch_labels = None
depends_on = None

# A plate of 63.5 × 63.5 mm, which the number of plates spoke of until now.
USUAL_PLATE_MM2 = 4032


def _count_by_area(bind: sa.Connection) -> None:
    """Give each charge its solution, its capacity as an area, and one entry for every plate that went through it.

    A plate whose run is known counts with its box's size, any other (all of a bleach's) as a usual one.
    """
    run, box = (
        sa.table("run", *map(sa.column, ("charge_id", "plate_box_id", "exposed_at", "filed_at"))),
        sa.table("plate_box", *map(sa.column, ("id", "width_um", "height_um"))),
    )
    moment = sa.DateTime(timezone=True)
    through = sa.table(
        "plate_through",
        sa.column("lab_id"),
        sa.column("charge_id"),
        sa.column("area_mm2"),
        sa.column("through_at", moment),
        sa.column("entered_at", moment),
    )
    charge = sa.table(
        "charge",
        *map(sa.column, ("id", "lab_id", "batch_id", "plates", "plates_at_most", "solution", "area_mm2")),
        *map(sa.column, ("area_at_most_mm2", "allowed_mm2")),
        sa.column("poured_at", moment),
    )
    batch = sa.table("batch", sa.column("id"), sa.column("solution"))
    of_run = sa.select(
        box.c.width_um,
        box.c.height_um,
        sa.type_coerce(run.c.exposed_at, moment),
        sa.type_coerce(run.c.filed_at, moment),
    ).join(box, box.c.id == run.c.plate_box_id)
    poured = sa.select(charge, batch.c.solution.label("made_of")).join(batch, batch.c.id == charge.c.batch_id)
    for row in bind.execute(poured).all():
        plates = [
            ((width_um * height_um + 500_000) // 1_000_000, exposed_at, filed_at)
            for width_um, height_um, exposed_at, filed_at in bind.execute(
                of_run.where(run.c.charge_id == row.id)
            )
        ]
        plates += [(USUAL_PLATE_MM2, row.poured_at, row.poured_at)] * (row.plates - len(plates))
        for area_mm2, through_at, entered_at in plates:
            bind.execute(
                through.insert().values(
                    lab_id=row.lab_id,
                    charge_id=row.id,
                    area_mm2=area_mm2,
                    through_at=through_at,
                    entered_at=entered_at,
                )
            )
        bind.execute(
            charge.update()
            .where(charge.c.id == row.id)
            .values(
                solution=row.made_of,
                plates=len(plates),
                area_mm2=sum(area_mm2 for area_mm2, _through_at, _entered_at in plates),
                area_at_most_mm2=row.plates_at_most * USUAL_PLATE_MM2,
                allowed_mm2=0,
            )
        )


def upgrade() -> None:
    op.create_table(
        "more_plates",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("charge_id", sa.Integer(), nullable=False),
        sa.Column("plates", sa.Integer(), nullable=False),
        sa.Column("area_mm2", sa.BigInteger(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("allowed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("allowed_by", sa.String(), nullable=False),
        sa.CheckConstraint("area_mm2 > 0", name=op.f("ck_more_plates_adds_area")),
        sa.CheckConstraint("plates > 0", name=op.f("ck_more_plates_some_plates")),
        sa.ForeignKeyConstraint(["charge_id"], ["charge.id"], name=op.f("fk_more_plates_charge_id_charge")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_more_plates_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_more_plates")),
    )
    with op.batch_alter_table("more_plates", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_more_plates_charge_id"), ["charge_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_more_plates_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "plate_through",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("charge_id", sa.Integer(), nullable=False),
        sa.Column("area_mm2", sa.BigInteger(), nullable=False),
        sa.Column("through_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("entered_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("area_mm2 >= 0", name=op.f("ck_plate_through_area_mm2_not_negative")),
        sa.ForeignKeyConstraint(["charge_id"], ["charge.id"], name=op.f("fk_plate_through_charge_id_charge")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_plate_through_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plate_through")),
    )
    with op.batch_alter_table("plate_through", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_plate_through_charge_id"), ["charge_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_plate_through_lab_id"), ["lab_id"], unique=False)

    with op.batch_alter_table("usual_quantities", schema=None) as batch_op:
        batch_op.add_column(sa.Column("plate_width_um", sa.Integer(), server_default="63500", nullable=False))
        batch_op.add_column(
            sa.Column("plate_height_um", sa.Integer(), server_default="63500", nullable=False)
        )

    with op.batch_alter_table("charge", schema=None) as batch_op:
        batch_op.add_column(sa.Column("solution", sa.String(), nullable=True))
        batch_op.add_column(sa.Column("area_mm2", sa.BigInteger(), nullable=True))
        batch_op.add_column(sa.Column("area_at_most_mm2", sa.BigInteger(), nullable=True))
        batch_op.add_column(sa.Column("allowed_mm2", sa.BigInteger(), nullable=True))
    _count_by_area(op.get_bind())
    with op.batch_alter_table("charge", schema=None) as batch_op:
        for column in ("area_mm2", "area_at_most_mm2", "allowed_mm2"):
            batch_op.alter_column(column, existing_type=sa.BigInteger(), nullable=False)
        batch_op.alter_column("solution", existing_type=sa.String(), nullable=False)
        batch_op.create_check_constraint("solution_is_known", "solution IN ('working developer', 'bleach')")
        batch_op.create_check_constraint("area_mm2_not_negative", "area_mm2 >= 0")
        batch_op.create_check_constraint("allowed_mm2_not_negative", "allowed_mm2 >= 0")
        batch_op.drop_index(batch_op.f("ix_charge_batch_id"))
        batch_op.drop_constraint(batch_op.f("fk_charge_batch_id_batch"), type_="foreignkey")
        batch_op.drop_column("plates_at_most")
        batch_op.drop_column("batch_id")


def downgrade() -> None:
    with op.batch_alter_table("charge", schema=None) as batch_op:
        batch_op.add_column(sa.Column("batch_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("plates_at_most", sa.Integer(), nullable=True))
    op.execute(
        "UPDATE charge SET batch_id = (SELECT min(batch_id) FROM batch_entry WHERE batch_entry.charge_id = charge.id), "
        "plates_at_most = (area_at_most_mm2 + allowed_mm2) / 4032"
    )
    with op.batch_alter_table("charge", schema=None) as batch_op:
        batch_op.alter_column("batch_id", existing_type=sa.Integer(), nullable=False)
        batch_op.alter_column("plates_at_most", existing_type=sa.Integer(), nullable=False)
        batch_op.create_foreign_key(batch_op.f("fk_charge_batch_id_batch"), "batch", ["batch_id"], ["id"])
        batch_op.create_index(batch_op.f("ix_charge_batch_id"), ["batch_id"], unique=False)
        for name in ("solution_is_known", "area_mm2_not_negative", "allowed_mm2_not_negative"):
            batch_op.drop_constraint(batch_op.f(f"ck_charge_{name}"), type_="check")
        for column in ("allowed_mm2", "area_at_most_mm2", "area_mm2", "solution"):
            batch_op.drop_column(column)

    with op.batch_alter_table("usual_quantities", schema=None) as batch_op:
        batch_op.drop_column("plate_height_um")
        batch_op.drop_column("plate_width_um")

    with op.batch_alter_table("plate_through", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_plate_through_lab_id"))
        batch_op.drop_index(batch_op.f("ix_plate_through_charge_id"))

    op.drop_table("plate_through")
    with op.batch_alter_table("more_plates", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_more_plates_lab_id"))
        batch_op.drop_index(batch_op.f("ix_more_plates_charge_id"))

    op.drop_table("more_plates")
