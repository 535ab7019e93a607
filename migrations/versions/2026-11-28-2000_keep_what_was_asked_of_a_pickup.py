"""Keep what was asked of a pickup, when it repeats, and what papers say of the lab."""

import sqlalchemy as sa
from alembic import op

revision = "46d3d3a32734"
down_revision = "8a7e31f0c5d6"
branch_labels = None
depends_on = None

ENDS_IN_ONE_WAY = (
    "(done_at IS NULL OR missed_at IS NULL) AND (done_at IS NULL OR called_off_at IS NULL) "
    "AND (missed_at IS NULL OR called_off_at IS NULL)"
)
LINE_RULES = {
    "vessel_is_known": (
        "vessel IN ('', 'plastic can or carboy', 'plastic bottle', 'glass bottle', 'plastic drum', 'metal can', 'metal drum', 'box')"
    ),
    "physical_state_is_known": "physical_state IN ('liquid', 'liquid with solids in it', 'sludge', 'solid')",
    "ph_on_the_scale": "ph_hundredths BETWEEN 0 AND 1400",
    "ph_has_a_temperature": "ph_hundredths IS NULL OR temperature_decicelsius IS NOT NULL",
    "something_read": "read_ul > 0",
    "gross_above_tare": "gross_mg > tare_mg",
    "taken_or_left": "entry_id IS NULL OR left_reason = ''",
}


def upgrade() -> None:
    op.create_table(
        "particulars",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("generator", sa.String(), nullable=False),
        sa.Column("address", sa.String(), nullable=False),
        sa.Column("room", sa.String(), nullable=False),
        sa.Column("phone", sa.String(), nullable=False),
        sa.Column("emergency_phone", sa.String(), nullable=False),
        sa.Column("site_number", sa.String(), nullable=False),
        sa.Column("contact", sa.String(), nullable=False),
        sa.Column("waste_office", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_particulars_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_particulars")),
        sa.UniqueConstraint("lab_id", name=op.f("uq_particulars_lab_id")),
    )
    with op.batch_alter_table("particulars", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_particulars_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "pickup_schedule",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("first_day", sa.Date(), nullable=False),
        sa.Column("every_weeks", sa.Integer(), nullable=False),
        sa.Column("until_day", sa.Date(), nullable=False),
        sa.Column("cut_off_days_before", sa.Integer(), nullable=False),
        sa.Column("cut_off_clock", sa.Time(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("made_by", sa.String(), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "cut_off_days_before BETWEEN 0 AND 7", name=op.f("ck_pickup_schedule_cut_off_in_the_week_before")
        ),
        sa.CheckConstraint("every_weeks IN (1, 2)", name=op.f("ck_pickup_schedule_weekly_or_every_other")),
        sa.CheckConstraint("until_day >= first_day", name=op.f("ck_pickup_schedule_has_a_day")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_pickup_schedule_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pickup_schedule")),
    )
    with op.batch_alter_table("pickup_schedule", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_pickup_schedule_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "pickup_event",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("pickup_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("happened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("noted_by", sa.String(), nullable=False),
        sa.CheckConstraint(
            "kind IN ('booked', 'changed', 'sheet changed', 'requested', 'request withdrawn', 'handed over', 'hand-over taken back', 'missed', 'called off')",
            name=op.f("ck_pickup_event_kind_is_known"),
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_pickup_event_lab_id_lab")),
        sa.ForeignKeyConstraint(["pickup_id"], ["pickup.id"], name=op.f("fk_pickup_event_pickup_id_pickup")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pickup_event")),
    )
    with op.batch_alter_table("pickup_event", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_pickup_event_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_pickup_event_pickup_id"), ["pickup_id"], unique=False)

    with op.batch_alter_table("pickup", schema=None) as batch_op:
        batch_op.add_column(sa.Column("schedule_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("called_off_at", sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column("said", sa.String(), server_default="", nullable=False))
        batch_op.drop_constraint(batch_op.f("uq_pickup_lab_id_on_day"), type_="unique")
        batch_op.create_index(batch_op.f("ix_pickup_schedule_id"), ["schedule_id"], unique=False)
        batch_op.create_index(
            "uq_pickup_one_a_day",
            ["lab_id", "on_day"],
            unique=True,
            sqlite_where=sa.text("called_off_at IS NULL"),
            postgresql_where=sa.text("called_off_at IS NULL"),
        )
        batch_op.create_foreign_key(
            batch_op.f("fk_pickup_schedule_id_pickup_schedule"), "pickup_schedule", ["schedule_id"], ["id"]
        )
        batch_op.create_check_constraint(op.f("ck_pickup_ends_in_one_way"), ENDS_IN_ONE_WAY)
    with op.batch_alter_table("pickup", schema=None) as batch_op:
        batch_op.alter_column("said", server_default=None)

    with op.batch_alter_table("pickup_line", schema=None) as batch_op:
        batch_op.add_column(sa.Column("listed_at", sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column("listed_by", sa.String(), server_default="", nullable=False))
        batch_op.add_column(sa.Column("vessel", sa.String(), server_default="", nullable=False))
        batch_op.add_column(sa.Column("contents", sa.String(), server_default="", nullable=False))
        batch_op.add_column(sa.Column("composition", sa.String(), server_default="", nullable=False))
        batch_op.add_column(sa.Column("physical_state", sa.String(), server_default="liquid", nullable=False))
        batch_op.add_column(sa.Column("ph_hundredths", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("temperature_decicelsius", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("handling", sa.String(), server_default="", nullable=False))
        batch_op.add_column(sa.Column("read_ul", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("gross_mg", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("tare_mg", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("described_at", sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column("described_by", sa.String(), server_default="", nullable=False))
        batch_op.add_column(sa.Column("sheet_ul", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("sheet_mg", sa.Integer(), nullable=True))
        for name, rule in LINE_RULES.items():
            batch_op.create_check_constraint(op.f(f"ck_pickup_line_{name}"), rule)
    with op.batch_alter_table("pickup_line", schema=None) as batch_op:
        for name in (
            "listed_by",
            "vessel",
            "contents",
            "composition",
            "physical_state",
            "handling",
            "described_by",
        ):
            batch_op.alter_column(name, server_default=None)
    # What was taken so far stood on paper as the ledger's sum.
    op.execute(
        "UPDATE pickup_line SET "
        "sheet_ul = (SELECT -change_ul FROM waste_entry WHERE waste_entry.id = pickup_line.entry_id), "
        "sheet_mg = (SELECT -change_mg FROM waste_entry WHERE waste_entry.id = pickup_line.entry_id)"
    )


def downgrade() -> None:
    with op.batch_alter_table("pickup_event", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_pickup_event_pickup_id"))
        batch_op.drop_index(batch_op.f("ix_pickup_event_lab_id"))

    op.drop_table("pickup_event")
    # A booking that was called off used to be taken away, so that its day could be booked anew.
    op.execute(
        "DELETE FROM pickup_line WHERE pickup_id IN (SELECT id FROM pickup WHERE called_off_at IS NOT NULL)"
    )
    op.execute("DELETE FROM pickup WHERE called_off_at IS NOT NULL")
    with op.batch_alter_table("pickup_line", schema=None) as batch_op:
        for name in LINE_RULES:
            batch_op.drop_constraint(op.f(f"ck_pickup_line_{name}"), type_="check")
    with op.batch_alter_table("pickup_line", schema=None) as batch_op:
        batch_op.drop_column("sheet_mg")
        batch_op.drop_column("sheet_ul")
        batch_op.drop_column("described_by")
        batch_op.drop_column("described_at")
        batch_op.drop_column("tare_mg")
        batch_op.drop_column("gross_mg")
        batch_op.drop_column("read_ul")
        batch_op.drop_column("handling")
        batch_op.drop_column("temperature_decicelsius")
        batch_op.drop_column("ph_hundredths")
        batch_op.drop_column("physical_state")
        batch_op.drop_column("composition")
        batch_op.drop_column("contents")
        batch_op.drop_column("vessel")
        batch_op.drop_column("listed_by")
        batch_op.drop_column("listed_at")

    with op.batch_alter_table("pickup", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_pickup_ends_in_one_way"), type_="check")
        batch_op.drop_constraint(batch_op.f("fk_pickup_schedule_id_pickup_schedule"), type_="foreignkey")
        batch_op.drop_index(
            "uq_pickup_one_a_day",
            sqlite_where=sa.text("called_off_at IS NULL"),
            postgresql_where=sa.text("called_off_at IS NULL"),
        )
        batch_op.drop_index(batch_op.f("ix_pickup_schedule_id"))
        batch_op.create_unique_constraint(batch_op.f("uq_pickup_lab_id_on_day"), ["lab_id", "on_day"])
        batch_op.drop_column("said")
        batch_op.drop_column("called_off_at")
        batch_op.drop_column("schedule_id")

    with op.batch_alter_table("pickup_schedule", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_pickup_schedule_lab_id"))

    op.drop_table("pickup_schedule")
    with op.batch_alter_table("particulars", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_particulars_lab_id"))

    op.drop_table("particulars")
