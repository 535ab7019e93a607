"""give containers a life and pickups their lines"""

import sqlalchemy as sa
from alembic import op

revision = "c4e046c2c3e4"
down_revision = "7f3a5d2c9e61"
branch_labels = None
depends_on = None

STATES = "state IN ('ordered', 'empty', 'open', 'closed', 'full', 'requested', 'collected', 'washed', 'reusable', 'retired')"
KINDS = "kind IN ('pour', 'transfer out', 'transfer in', 'sample', 'spill', 'evaporation', 'collected', 'correction')"
OLD_STATES = "state IN ('open', 'closed', 'collected')"
OLD_KINDS = "kind IN ('pour', 'collected', 'correction')"


def upgrade() -> None:
    op.create_table(
        "balance_figures",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("carried_ul_per_m2", sa.Integer(), nullable=False),
        sa.Column("evaporated_ul_per_m2_h", sa.Integer(), nullable=False),
        sa.Column("tray_depth_um", sa.Integer(), nullable=False),
        sa.Column("tolerance_ppm", sa.Integer(), nullable=False),
        sa.Column("tolerance_ul", sa.Integer(), nullable=False),
        sa.Column("assumed", sa.Boolean(), nullable=False),
        sa.CheckConstraint(
            "carried_ul_per_m2 >= 0", name=op.f("ck_balance_figures_carried_ul_per_m2_not_negative")
        ),
        sa.CheckConstraint(
            "evaporated_ul_per_m2_h >= 0", name=op.f("ck_balance_figures_evaporated_ul_per_m2_h_not_negative")
        ),
        sa.CheckConstraint("tolerance_ppm >= 0", name=op.f("ck_balance_figures_tolerance_ppm_not_negative")),
        sa.CheckConstraint("tolerance_ul >= 0", name=op.f("ck_balance_figures_tolerance_ul_not_negative")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_balance_figures_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_balance_figures")),
        sa.UniqueConstraint("lab_id", name=op.f("uq_balance_figures_lab_id")),
    )
    with op.batch_alter_table("balance_figures", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_balance_figures_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "rule_choice",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("rule_set", sa.String(), nullable=False),
        sa.Column("from_day", sa.Date(), nullable=False),
        sa.Column("chosen_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("chosen_by", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_rule_choice_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rule_choice")),
    )
    with op.batch_alter_table("rule_choice", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_rule_choice_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "rule_override",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("rule", sa.String(), nullable=False),
        sa.Column("value", sa.String(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("from_day", sa.Date(), nullable=False),
        sa.Column("decided_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("decided_by", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_rule_override_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rule_override")),
    )
    with op.batch_alter_table("rule_override", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_rule_override_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "site_month",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("month", sa.Date(), nullable=False),
        sa.Column("acute_mg", sa.BigInteger(), nullable=False),
        sa.Column("non_acute_mg", sa.BigInteger(), nullable=False),
        sa.Column("spill_mg", sa.BigInteger(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("entered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("entered_by", sa.String(), nullable=False),
        sa.CheckConstraint("acute_mg >= 0", name=op.f("ck_site_month_acute_mg_not_negative")),
        sa.CheckConstraint("non_acute_mg >= 0", name=op.f("ck_site_month_non_acute_mg_not_negative")),
        sa.CheckConstraint("spill_mg >= 0", name=op.f("ck_site_month_spill_mg_not_negative")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_site_month_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_site_month")),
    )
    with op.batch_alter_table("site_month", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_site_month_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "waste_area",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.CheckConstraint(
            "kind IN ('satellite', 'central', 'laboratory')", name=op.f("ck_waste_area_kind_is_known")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_waste_area_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_waste_area")),
        sa.UniqueConstraint("lab_id", "name", name=op.f("uq_waste_area_lab_id_name")),
    )
    with op.batch_alter_table("waste_area", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_waste_area_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "other_waste",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("area_id", sa.Integer(), nullable=True),
        sa.Column("course", sa.String(), nullable=False),
        sa.Column("contents", sa.String(), nullable=False),
        sa.Column("volume_ul", sa.BigInteger(), nullable=False),
        sa.Column("mass_mg", sa.BigInteger(), nullable=False),
        sa.Column("since", sa.Date(), nullable=False),
        sa.Column("gone_on", sa.Date(), nullable=True),
        sa.Column("entered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("entered_by", sa.String(), nullable=False),
        sa.CheckConstraint(
            "gone_on IS NULL OR gone_on >= since", name=op.f("ck_other_waste_goes_after_it_came")
        ),
        sa.CheckConstraint("mass_mg > 0", name=op.f("ck_other_waste_has_a_mass")),
        sa.CheckConstraint("volume_ul > 0", name=op.f("ck_other_waste_has_a_volume")),
        sa.ForeignKeyConstraint(
            ["area_id"], ["waste_area.id"], name=op.f("fk_other_waste_area_id_waste_area")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_other_waste_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_other_waste")),
    )
    with op.batch_alter_table("other_waste", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_other_waste_area_id"), ["area_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_other_waste_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "stream_group",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("stream_id", sa.Integer(), nullable=False),
        sa.Column("reactivity", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_stream_group_lab_id_lab")),
        sa.ForeignKeyConstraint(["stream_id"], ["stream.id"], name=op.f("fk_stream_group_stream_id_stream")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stream_group")),
        sa.UniqueConstraint("stream_id", "reactivity", name=op.f("uq_stream_group_stream_id_reactivity")),
    )
    with op.batch_alter_table("stream_group", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_stream_group_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_stream_group_stream_id"), ["stream_id"], unique=False)

    op.create_table(
        "balance_answer",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("rotation_id", sa.Integer(), nullable=True),
        sa.Column("first_day", sa.Date(), nullable=False),
        sa.Column("last_day", sa.Date(), nullable=False),
        sa.Column("difference_ul", sa.BigInteger(), nullable=False),
        sa.Column("answer", sa.String(), nullable=False),
        sa.Column("answered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("answered_by", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_balance_answer_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["rotation_id"], ["rotation.id"], name=op.f("fk_balance_answer_rotation_id_rotation")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_balance_answer")),
    )
    with op.batch_alter_table("balance_answer", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_balance_answer_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_balance_answer_rotation_id"), ["rotation_id"], unique=False)

    op.create_table(
        "container_event",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("container_id", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("happened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("noted_by", sa.String(), nullable=False),
        sa.CheckConstraint(
            "state IN ('ordered', 'empty', 'open', 'closed', 'full', 'requested', 'collected', 'washed', 'reusable', 'retired')",
            name=op.f("ck_container_event_state_is_known"),
        ),
        sa.ForeignKeyConstraint(
            ["container_id"],
            ["waste_container.id"],
            name=op.f("fk_container_event_container_id_waste_container"),
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_container_event_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_container_event")),
    )
    with op.batch_alter_table("container_event", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_container_event_container_id"), ["container_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_container_event_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "determination",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("container_id", sa.Integer(), nullable=False),
        sa.Column("ph_hundredths", sa.Integer(), nullable=True),
        sa.Column("temperature_decicelsius", sa.Integer(), nullable=True),
        sa.Column("silver_ug_per_l", sa.BigInteger(), nullable=True),
        sa.Column("chromium_ug_per_l", sa.BigInteger(), nullable=True),
        sa.Column("sampled_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("origin", sa.String(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("entered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("entered_by", sa.String(), nullable=False),
        sa.CheckConstraint(
            "chromium_ug_per_l >= 0", name=op.f("ck_determination_chromium_ug_per_l_not_negative")
        ),
        sa.CheckConstraint(
            "ph_hundredths BETWEEN -200 AND 1600", name=op.f("ck_determination_ph_on_the_scale")
        ),
        sa.CheckConstraint(
            "ph_hundredths IS NULL OR temperature_decicelsius IS NOT NULL",
            name=op.f("ck_determination_ph_has_a_temperature"),
        ),
        sa.CheckConstraint(
            "silver_ug_per_l >= 0", name=op.f("ck_determination_silver_ug_per_l_not_negative")
        ),
        sa.ForeignKeyConstraint(
            ["container_id"],
            ["waste_container.id"],
            name=op.f("fk_determination_container_id_waste_container"),
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_determination_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_determination")),
    )
    with op.batch_alter_table("determination", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_determination_container_id"), ["container_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_determination_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "water_drawn",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("tablet_id", sa.String(), nullable=False),
        sa.Column("rotation_id", sa.Integer(), nullable=True),
        sa.Column("drawn_ul", sa.Integer(), nullable=False),
        sa.Column("typed", sa.String(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("drawn_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("entered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("entered_by", sa.String(), nullable=False),
        sa.CheckConstraint("drawn_ul > 0", name=op.f("ck_water_drawn_some_water")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_water_drawn_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["rotation_id"], ["rotation.id"], name=op.f("fk_water_drawn_rotation_id_rotation")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_water_drawn")),
        sa.UniqueConstraint("lab_id", "tablet_id", name=op.f("uq_water_drawn_lab_id_tablet_id")),
    )
    with op.batch_alter_table("water_drawn", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_water_drawn_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_water_drawn_rotation_id"), ["rotation_id"], unique=False)

    op.create_table(
        "pickup_line",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("pickup_id", sa.Integer(), nullable=False),
        sa.Column("container_id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=True),
        sa.Column("receipt", sa.String(), nullable=False),
        sa.Column("left_reason", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["container_id"], ["waste_container.id"], name=op.f("fk_pickup_line_container_id_waste_container")
        ),
        sa.ForeignKeyConstraint(
            ["entry_id"], ["waste_entry.id"], name=op.f("fk_pickup_line_entry_id_waste_entry")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_pickup_line_lab_id_lab")),
        sa.ForeignKeyConstraint(["pickup_id"], ["pickup.id"], name=op.f("fk_pickup_line_pickup_id_pickup")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pickup_line")),
        sa.UniqueConstraint("entry_id", name=op.f("uq_pickup_line_entry_id")),
        sa.UniqueConstraint("pickup_id", "container_id", name=op.f("uq_pickup_line_pickup_id_container_id")),
    )
    with op.batch_alter_table("pickup_line", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_pickup_line_container_id"), ["container_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_pickup_line_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_pickup_line_pickup_id"), ["pickup_id"], unique=False)

    op.create_table(
        "weighing",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("container_id", sa.Integer(), nullable=False),
        sa.Column("gross_mg", sa.BigInteger(), nullable=False),
        sa.Column("tare_mg", sa.BigInteger(), nullable=False),
        sa.Column("step_mg", sa.Integer(), nullable=False),
        sa.Column("density_ug_per_ul", sa.Integer(), nullable=False),
        sa.Column("last_entry_id", sa.Integer(), nullable=True),
        sa.Column("ledger_ul", sa.Integer(), nullable=False),
        sa.Column("ledger_mg", sa.BigInteger(), nullable=False),
        sa.Column("answer", sa.String(), nullable=False),
        sa.Column("weighed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("weighed_by", sa.String(), nullable=False),
        sa.CheckConstraint("gross_mg > tare_mg AND tare_mg > 0", name=op.f("ck_weighing_net_above_nothing")),
        sa.ForeignKeyConstraint(
            ["container_id"], ["waste_container.id"], name=op.f("fk_weighing_container_id_waste_container")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_weighing_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["last_entry_id"], ["waste_entry.id"], name=op.f("fk_weighing_last_entry_id_waste_entry")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_weighing")),
    )
    with op.batch_alter_table("weighing", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_weighing_container_id"), ["container_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_weighing_lab_id"), ["lab_id"], unique=False)

    with op.batch_alter_table("pickup", schema=None) as batch_op:
        batch_op.add_column(sa.Column("requested_by", sa.String(), server_default="", nullable=False))
        batch_op.add_column(sa.Column("most_ul", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("most_containers", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("missed_at", sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column("receipt", sa.String(), server_default="", nullable=False))
        batch_op.add_column(sa.Column("note", sa.String(), server_default="", nullable=False))
        batch_op.create_check_constraint(op.f("ck_pickup_takes_some_volume"), "most_ul > 0")
        batch_op.create_check_constraint(op.f("ck_pickup_takes_some_containers"), "most_containers > 0")
    with op.batch_alter_table("pickup", schema=None) as batch_op:
        for name in ("requested_by", "receipt", "note"):
            batch_op.alter_column(name, server_default=None)

    with op.batch_alter_table("stream", schema=None) as batch_op:
        batch_op.add_column(
            sa.Column("density_ug_per_ul", sa.Integer(), server_default="1000", nullable=False)
        )
        batch_op.add_column(
            sa.Column("density_assumed", sa.Boolean(), server_default=sa.true(), nullable=False)
        )
        batch_op.create_check_constraint(op.f("ck_stream_has_a_density"), "density_ug_per_ul > 0")
    with op.batch_alter_table("stream", schema=None) as batch_op:
        batch_op.alter_column("density_assumed", server_default=None)

    # What was called closed took no more until it was opened again; now a closed lid takes more and a full container doesn't.
    with op.batch_alter_table("waste_container", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_waste_container_state_is_known"), type_="check")
    op.execute("UPDATE waste_container SET state = 'full' WHERE state = 'closed'")
    with op.batch_alter_table("waste_container", schema=None) as batch_op:
        batch_op.create_check_constraint(op.f("ck_waste_container_state_is_known"), STATES)
        batch_op.add_column(sa.Column("area_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("held_mg", sa.BigInteger(), server_default="0", nullable=False))
        batch_op.add_column(sa.Column("tare_mg", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("reused_from_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("full_at", sa.DateTime(timezone=True), nullable=True))
        batch_op.create_index(batch_op.f("ix_waste_container_area_id"), ["area_id"], unique=False)
        batch_op.create_unique_constraint(batch_op.f("uq_waste_container_reused_from_id"), ["reused_from_id"])
        batch_op.create_foreign_key(
            batch_op.f("fk_waste_container_reused_from_id_waste_container"),
            "waste_container",
            ["reused_from_id"],
            ["id"],
        )
        batch_op.create_foreign_key(
            batch_op.f("fk_waste_container_area_id_waste_area"), "waste_area", ["area_id"], ["id"]
        )
        batch_op.create_check_constraint(op.f("ck_waste_container_held_mg_not_negative"), "held_mg >= 0")
        batch_op.create_check_constraint(op.f("ck_waste_container_tare_above_nothing"), "tare_mg > 0")
    # Until a density is known a microlitre counts as a milligram.
    op.execute("UPDATE waste_container SET held_mg = held_ul")
    op.execute(
        "INSERT INTO container_event (lab_id, container_id, state, note, happened_at, noted_by) "
        "SELECT lab_id, id, state, 'as it was when events began to be kept', opened_at, 'not noted' FROM waste_container"
    )
    op.execute(
        "INSERT INTO pickup_line (lab_id, pickup_id, container_id, entry_id, receipt, left_reason) "
        "SELECT lab_id, pickup_id, container_id, id, '', '' FROM waste_entry WHERE pickup_id IS NOT NULL"
    )

    with op.batch_alter_table("waste_entry", schema=None) as batch_op:
        batch_op.add_column(sa.Column("change_mg", sa.BigInteger(), nullable=True))
        batch_op.add_column(sa.Column("uncertainty_ul", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("held_after_ul", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("held_after_mg", sa.BigInteger(), nullable=True))
        batch_op.add_column(sa.Column("batch_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("bottle_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("rotation_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("transfer_of_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("over_line_reason", sa.String(), nullable=True))
        batch_op.add_column(sa.Column("happened_at", sa.DateTime(timezone=True), nullable=True))
        batch_op.drop_constraint(op.f("ck_waste_entry_kind_is_known"), type_="check")
    op.execute(
        "UPDATE waste_entry SET change_mg = change_ul, uncertainty_ul = 0, over_line_reason = '', happened_at = entered_at, "
        "held_after_ul = (SELECT sum(before.change_ul) FROM waste_entry AS before "
        "WHERE before.container_id = waste_entry.container_id AND before.id <= waste_entry.id)"
    )
    op.execute("UPDATE waste_entry SET held_after_mg = held_after_ul")
    with op.batch_alter_table("waste_entry", schema=None) as batch_op:
        for name in (
            "change_mg",
            "uncertainty_ul",
            "held_after_ul",
            "held_after_mg",
            "over_line_reason",
            "happened_at",
        ):
            batch_op.alter_column(name, nullable=False)
        batch_op.create_check_constraint(op.f("ck_waste_entry_kind_is_known"), KINDS)
        for name in ("held_after_ul", "held_after_mg", "uncertainty_ul"):
            batch_op.create_check_constraint(op.f(f"ck_waste_entry_{name}_not_negative"), f"{name} >= 0")
        batch_op.drop_index(batch_op.f("ix_waste_entry_container_id"))
        batch_op.drop_index(batch_op.f("ix_waste_entry_pickup_id"))
        batch_op.create_index(batch_op.f("ix_waste_entry_batch_id"), ["batch_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_waste_entry_bottle_id"), ["bottle_id"], unique=False)
        batch_op.create_index("ix_waste_entry_happened_at", ["lab_id", "happened_at"], unique=False)
        batch_op.create_index("ix_waste_entry_of_container", ["container_id", "id"], unique=False)
        batch_op.create_index(batch_op.f("ix_waste_entry_rotation_id"), ["rotation_id"], unique=False)
        batch_op.create_unique_constraint(batch_op.f("uq_waste_entry_transfer_of_id"), ["transfer_of_id"])
        batch_op.drop_constraint(batch_op.f("fk_waste_entry_pickup_id_pickup"), type_="foreignkey")
        batch_op.create_foreign_key(
            batch_op.f("fk_waste_entry_rotation_id_rotation"), "rotation", ["rotation_id"], ["id"]
        )
        batch_op.create_foreign_key(
            batch_op.f("fk_waste_entry_batch_id_batch"), "batch", ["batch_id"], ["id"]
        )
        batch_op.create_foreign_key(
            batch_op.f("fk_waste_entry_bottle_id_bottle"), "bottle", ["bottle_id"], ["id"]
        )
        batch_op.create_foreign_key(
            batch_op.f("fk_waste_entry_transfer_of_id_waste_entry"), "waste_entry", ["transfer_of_id"], ["id"]
        )
        batch_op.drop_column("pickup_id")


def downgrade() -> None:
    with op.batch_alter_table("waste_entry", schema=None) as batch_op:
        batch_op.add_column(sa.Column("pickup_id", sa.INTEGER(), nullable=True))
        batch_op.drop_constraint(op.f("ck_waste_entry_kind_is_known"), type_="check")
        for name in ("held_after_ul", "held_after_mg", "uncertainty_ul"):
            batch_op.drop_constraint(op.f(f"ck_waste_entry_{name}_not_negative"), type_="check")
    op.execute(
        "UPDATE waste_entry SET pickup_id = (SELECT pickup_id FROM pickup_line WHERE pickup_line.entry_id = waste_entry.id)"
    )
    op.execute(
        "UPDATE waste_entry SET kind = 'correction' WHERE kind IN ('transfer out', 'transfer in', 'sample', 'spill', 'evaporation')"
    )
    with op.batch_alter_table("waste_entry", schema=None) as batch_op:
        batch_op.create_check_constraint(op.f("ck_waste_entry_kind_is_known"), OLD_KINDS)
        batch_op.drop_constraint(batch_op.f("fk_waste_entry_transfer_of_id_waste_entry"), type_="foreignkey")
        batch_op.drop_constraint(batch_op.f("fk_waste_entry_bottle_id_bottle"), type_="foreignkey")
        batch_op.drop_constraint(batch_op.f("fk_waste_entry_batch_id_batch"), type_="foreignkey")
        batch_op.drop_constraint(batch_op.f("fk_waste_entry_rotation_id_rotation"), type_="foreignkey")
        batch_op.create_foreign_key(
            batch_op.f("fk_waste_entry_pickup_id_pickup"), "pickup", ["pickup_id"], ["id"]
        )
        batch_op.drop_constraint(batch_op.f("uq_waste_entry_transfer_of_id"), type_="unique")
        batch_op.drop_index(batch_op.f("ix_waste_entry_rotation_id"))
        batch_op.drop_index("ix_waste_entry_of_container")
        batch_op.drop_index("ix_waste_entry_happened_at")
        batch_op.drop_index(batch_op.f("ix_waste_entry_bottle_id"))
        batch_op.drop_index(batch_op.f("ix_waste_entry_batch_id"))
        batch_op.create_index(batch_op.f("ix_waste_entry_pickup_id"), ["pickup_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_waste_entry_container_id"), ["container_id"], unique=False)
        batch_op.drop_column("happened_at")
        batch_op.drop_column("over_line_reason")
        batch_op.drop_column("transfer_of_id")
        batch_op.drop_column("rotation_id")
        batch_op.drop_column("bottle_id")
        batch_op.drop_column("batch_id")
        batch_op.drop_column("held_after_mg")
        batch_op.drop_column("held_after_ul")
        batch_op.drop_column("uncertainty_ul")
        batch_op.drop_column("change_mg")

    with op.batch_alter_table("waste_container", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_waste_container_state_is_known"), type_="check")
        batch_op.drop_constraint(op.f("ck_waste_container_held_mg_not_negative"), type_="check")
        batch_op.drop_constraint(op.f("ck_waste_container_tare_above_nothing"), type_="check")
    op.execute("UPDATE waste_container SET state = 'closed' WHERE state IN ('ordered', 'full', 'requested')")
    op.execute("UPDATE waste_container SET state = 'open' WHERE state = 'empty'")
    op.execute(
        "UPDATE waste_container SET state = 'collected' WHERE state IN ('washed', 'reusable', 'retired')"
    )
    with op.batch_alter_table("waste_container", schema=None) as batch_op:
        batch_op.create_check_constraint(op.f("ck_waste_container_state_is_known"), OLD_STATES)
        batch_op.drop_constraint(batch_op.f("fk_waste_container_area_id_waste_area"), type_="foreignkey")
        batch_op.drop_constraint(
            batch_op.f("fk_waste_container_reused_from_id_waste_container"), type_="foreignkey"
        )
        batch_op.drop_constraint(batch_op.f("uq_waste_container_reused_from_id"), type_="unique")
        batch_op.drop_index(batch_op.f("ix_waste_container_area_id"))
        batch_op.drop_column("full_at")
        batch_op.drop_column("reused_from_id")
        batch_op.drop_column("tare_mg")
        batch_op.drop_column("held_mg")
        batch_op.drop_column("area_id")

    with op.batch_alter_table("stream", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_stream_has_a_density"), type_="check")
        batch_op.drop_column("density_assumed")
        batch_op.drop_column("density_ug_per_ul")

    with op.batch_alter_table("pickup", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_pickup_takes_some_volume"), type_="check")
        batch_op.drop_constraint(op.f("ck_pickup_takes_some_containers"), type_="check")
        batch_op.drop_column("note")
        batch_op.drop_column("receipt")
        batch_op.drop_column("missed_at")
        batch_op.drop_column("most_containers")
        batch_op.drop_column("most_ul")
        batch_op.drop_column("requested_by")

    with op.batch_alter_table("weighing", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_weighing_lab_id"))
        batch_op.drop_index(batch_op.f("ix_weighing_container_id"))

    op.drop_table("weighing")
    with op.batch_alter_table("pickup_line", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_pickup_line_pickup_id"))
        batch_op.drop_index(batch_op.f("ix_pickup_line_lab_id"))
        batch_op.drop_index(batch_op.f("ix_pickup_line_container_id"))

    op.drop_table("pickup_line")
    with op.batch_alter_table("water_drawn", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_water_drawn_rotation_id"))
        batch_op.drop_index(batch_op.f("ix_water_drawn_lab_id"))

    op.drop_table("water_drawn")
    with op.batch_alter_table("determination", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_determination_lab_id"))
        batch_op.drop_index(batch_op.f("ix_determination_container_id"))

    op.drop_table("determination")
    with op.batch_alter_table("container_event", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_container_event_lab_id"))
        batch_op.drop_index(batch_op.f("ix_container_event_container_id"))

    op.drop_table("container_event")
    with op.batch_alter_table("balance_answer", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_balance_answer_rotation_id"))
        batch_op.drop_index(batch_op.f("ix_balance_answer_lab_id"))

    op.drop_table("balance_answer")
    with op.batch_alter_table("stream_group", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_stream_group_stream_id"))
        batch_op.drop_index(batch_op.f("ix_stream_group_lab_id"))

    op.drop_table("stream_group")
    with op.batch_alter_table("other_waste", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_other_waste_lab_id"))
        batch_op.drop_index(batch_op.f("ix_other_waste_area_id"))

    op.drop_table("other_waste")
    with op.batch_alter_table("waste_area", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_waste_area_lab_id"))

    op.drop_table("waste_area")
    with op.batch_alter_table("site_month", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_site_month_lab_id"))

    op.drop_table("site_month")
    with op.batch_alter_table("rule_override", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_rule_override_lab_id"))

    op.drop_table("rule_override")
    with op.batch_alter_table("rule_choice", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_rule_choice_lab_id"))

    op.drop_table("rule_choice")
    with op.batch_alter_table("balance_figures", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_balance_figures_lab_id"))

    op.drop_table("balance_figures")
