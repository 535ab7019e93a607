"""first tables"""

import sqlalchemy as sa
from alembic import op

revision = "f0952692cd3a"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "lab",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("time_zone", sa.String(), nullable=False),
        sa.Column("opened_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lab")),
    )
    op.create_table(
        "set_up_code",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code_hash", sa.String(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_set_up_code")),
        sa.UniqueConstraint("code_hash", name=op.f("uq_set_up_code_code_hash")),
    )
    op.create_table(
        "batch",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("solution", sa.String(), nullable=False),
        sa.Column("volume_ul", sa.Integer(), nullable=False),
        sa.Column("left_ul", sa.Integer(), nullable=False),
        sa.Column("mixed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("mixed_by", sa.String(), nullable=False),
        sa.CheckConstraint(
            "solution IN ('working developer', 'bleach')", name=op.f("ck_batch_solution_is_known")
        ),
        sa.CheckConstraint("left_ul >= 0", name=op.f("ck_batch_left_ul_not_negative")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_batch_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batch")),
        sa.UniqueConstraint("lab_id", "number", name=op.f("uq_batch_lab_id_number")),
    )
    with op.batch_alter_table("batch", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_batch_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "kit",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("arrived_on", sa.Date(), nullable=False),
        sa.Column("expires_on", sa.Date(), nullable=True),
        sa.Column("storage", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_kit_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_kit")),
        sa.UniqueConstraint("lab_id", "name", name=op.f("uq_kit_lab_id_name")),
    )
    with op.batch_alter_table("kit", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_kit_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "light_zone",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_light_zone_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_light_zone")),
        sa.UniqueConstraint("lab_id", "name", name=op.f("uq_light_zone_lab_id_name")),
    )
    with op.batch_alter_table("light_zone", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_light_zone_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "person",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("email", sa.String(), nullable=False),
        sa.Column("role", sa.String(), nullable=False),
        sa.Column("password_hash", sa.String(), nullable=False),
        sa.CheckConstraint("role IN ('instructor', 'technician')", name=op.f("ck_person_role_is_known")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_person_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("email", name=op.f("uq_person_email")),
    )
    with op.batch_alter_table("person", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_person_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "pickup",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("on_day", sa.Date(), nullable=False),
        sa.Column("request_by", sa.DateTime(timezone=True), nullable=False),
        sa.Column("requested_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("done_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("collected_by", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_pickup_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pickup")),
        sa.UniqueConstraint("lab_id", "on_day", name=op.f("uq_pickup_lab_id_on_day")),
    )
    with op.batch_alter_table("pickup", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_pickup_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "plate_box",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("plates_left", sa.Integer(), nullable=False),
        sa.Column("width_um", sa.Integer(), nullable=False),
        sa.Column("height_um", sa.Integer(), nullable=False),
        sa.Column("dose_uj_per_cm2", sa.Integer(), nullable=False),
        sa.Column("sees_red", sa.Boolean(), nullable=False),
        sa.Column("sees_green", sa.Boolean(), nullable=False),
        sa.Column("sees_blue", sa.Boolean(), nullable=False),
        sa.Column("arrived_on", sa.Date(), nullable=False),
        sa.Column("expires_on", sa.Date(), nullable=True),
        sa.Column("warm_up_s", sa.Integer(), nullable=False),
        sa.Column("opened_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("plates_left >= 0", name=op.f("ck_plate_box_plates_left_not_negative")),
        sa.CheckConstraint("width_um > 0 AND height_um > 0", name=op.f("ck_plate_box_has_a_size")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_plate_box_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plate_box")),
        sa.UniqueConstraint("lab_id", "name", name=op.f("uq_plate_box_lab_id_name")),
    )
    with op.batch_alter_table("plate_box", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_plate_box_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "prep_tick",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("on_day", sa.Date(), nullable=False),
        sa.Column("line", sa.String(), nullable=False),
        sa.Column("ticked_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ticked_by", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_prep_tick_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_prep_tick")),
        sa.UniqueConstraint("lab_id", "on_day", "line", name=op.f("uq_prep_tick_lab_id_on_day_line")),
    )
    with op.batch_alter_table("prep_tick", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_prep_tick_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "safety_round",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("check_kind", sa.String(), nullable=False),
        sa.Column("in_order", sa.Boolean(), nullable=False),
        sa.Column("found", sa.String(), nullable=False),
        sa.Column("done_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("done_by", sa.String(), nullable=False),
        sa.CheckConstraint(
            "check_kind IN ('eyewash', 'waste shelf', 'safelights', 'lasers', 'dark room')",
            name=op.f("ck_safety_round_check_kind_is_known"),
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_safety_round_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_safety_round")),
    )
    with op.batch_alter_table("safety_round", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_safety_round_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "section",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("class_code", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_section_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_section")),
        sa.UniqueConstraint("class_code", name=op.f("uq_section_class_code")),
        sa.UniqueConstraint("lab_id", "name", name=op.f("uq_section_lab_id_name")),
    )
    with op.batch_alter_table("section", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_section_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "still_zone",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_still_zone_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_still_zone")),
        sa.UniqueConstraint("lab_id", "name", name=op.f("uq_still_zone_lab_id_name")),
    )
    with op.batch_alter_table("still_zone", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_still_zone_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "stream",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("takes", sa.String(), nullable=False),
        sa.Column("hazards", sa.String(), nullable=False),
        sa.CheckConstraint(
            "takes IN ('spent developer', 'spent bleach', 'rinse', 'other')",
            name=op.f("ck_stream_takes_is_known"),
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_stream_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stream")),
        sa.UniqueConstraint("lab_id", "name", name=op.f("uq_stream_lab_id_name")),
    )
    with op.batch_alter_table("stream", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_stream_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(
            "uq_stream_one_per_source",
            ["lab_id", "takes"],
            unique=True,
            sqlite_where=sa.text("takes <> 'other'"),
            postgresql_where=sa.text("takes <> 'other'"),
        )

    op.create_table(
        "tray_line",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_tray_line_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tray_line")),
        sa.UniqueConstraint("lab_id", "name", name=op.f("uq_tray_line_lab_id_name")),
    )
    with op.batch_alter_table("tray_line", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_tray_line_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "usual_quantities",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("developer_life_s", sa.Integer(), nullable=False),
        sa.Column("bleach_life_s", sa.Integer(), nullable=False),
        sa.Column("developer_charge_ul", sa.Integer(), nullable=False),
        sa.Column("bleach_charge_ul", sa.Integer(), nullable=False),
        sa.Column("plates_per_charge", sa.Integer(), nullable=False),
        sa.Column("rinse_ul_per_plate", sa.Integer(), nullable=False),
        sa.Column("test_plates_per_station", sa.Integer(), nullable=False),
        sa.Column("assumed", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_usual_quantities_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_usual_quantities")),
        sa.UniqueConstraint("lab_id", name=op.f("uq_usual_quantities_lab_id")),
    )
    with op.batch_alter_table("usual_quantities", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_usual_quantities_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "bottle",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kit_id", sa.Integer(), nullable=False),
        sa.Column("substance", sa.String(), nullable=False),
        sa.Column("left_ul", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "substance IN ('stock A', 'stock B', 'bleach')", name=op.f("ck_bottle_substance_is_known")
        ),
        sa.CheckConstraint("left_ul >= 0", name=op.f("ck_bottle_left_ul_not_negative")),
        sa.ForeignKeyConstraint(["kit_id"], ["kit.id"], name=op.f("fk_bottle_kit_id_kit")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_bottle_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bottle")),
    )
    with op.batch_alter_table("bottle", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_bottle_kit_id"), ["kit_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_bottle_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "place",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("capacity", sa.Integer(), nullable=False),
        sa.Column("bath", sa.String(), nullable=True),
        sa.Column("tray_line_id", sa.Integer(), nullable=True),
        sa.Column("light_zone_id", sa.Integer(), nullable=True),
        sa.Column("still_zone_id", sa.Integer(), nullable=True),
        sa.Column("settle_s", sa.Integer(), nullable=True),
        sa.Column("exposure_s", sa.Integer(), nullable=True),
        sa.Column("out_of_order", sa.Boolean(), nullable=False),
        sa.CheckConstraint(
            "(kind = 'station') = (exposure_s IS NOT NULL)", name=op.f("ck_place_a_station_has_an_exposure")
        ),
        sa.CheckConstraint("(kind = 'tray') = (bath IS NOT NULL)", name=op.f("ck_place_a_tray_has_a_bath")),
        sa.CheckConstraint(
            "kind IN ('station', 'tray', 'dryer', 'bench')", name=op.f("ck_place_kind_is_known")
        ),
        sa.CheckConstraint("capacity >= 1", name=op.f("ck_place_capacity_at_least_one")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_place_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["light_zone_id"], ["light_zone.id"], name=op.f("fk_place_light_zone_id_light_zone")
        ),
        sa.ForeignKeyConstraint(
            ["still_zone_id"], ["still_zone.id"], name=op.f("fk_place_still_zone_id_still_zone")
        ),
        sa.ForeignKeyConstraint(
            ["tray_line_id"], ["tray_line.id"], name=op.f("fk_place_tray_line_id_tray_line")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_place")),
        sa.UniqueConstraint("lab_id", "name", name=op.f("uq_place_lab_id_name")),
    )
    with op.batch_alter_table("place", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_place_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_place_light_zone_id"), ["light_zone_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_place_still_zone_id"), ["still_zone_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_place_tray_line_id"), ["tray_line_id"], unique=False)

    op.create_table(
        "plate_entry",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("plate_box_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("change", sa.Integer(), nullable=False),
        sa.Column("run_id", sa.Integer(), nullable=True),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("entered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("entered_by", sa.String(), nullable=False),
        sa.CheckConstraint(
            "kind IN ('arrived', 'run', 'test', 'lost', 'correction')",
            name=op.f("ck_plate_entry_kind_is_known"),
        ),
        sa.CheckConstraint("change <> 0", name=op.f("ck_plate_entry_changes_something")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_plate_entry_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["plate_box_id"], ["plate_box.id"], name=op.f("fk_plate_entry_plate_box_id_plate_box")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plate_entry")),
    )
    with op.batch_alter_table("plate_entry", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_plate_entry_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_plate_entry_plate_box_id"), ["plate_box_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_plate_entry_run_id"), ["run_id"], unique=False)

    op.create_table(
        "rotation",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("section_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("published_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "state IN ('draft', 'planned', 'published')", name=op.f("ck_rotation_state_is_known")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_rotation_lab_id_lab")),
        sa.ForeignKeyConstraint(["section_id"], ["section.id"], name=op.f("fk_rotation_section_id_section")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rotation")),
    )
    with op.batch_alter_table("rotation", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_rotation_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_rotation_section_id"), ["section_id"], unique=False)

    op.create_table(
        "student_group",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("section_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("in_use", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_student_group_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["section_id"], ["section.id"], name=op.f("fk_student_group_section_id_section")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_student_group")),
        sa.UniqueConstraint("section_id", "number", name=op.f("uq_student_group_section_id_number")),
    )
    with op.batch_alter_table("student_group", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_student_group_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_student_group_section_id"), ["section_id"], unique=False)

    op.create_table(
        "waste_container",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("stream_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("size_ul", sa.Integer(), nullable=False),
        sa.Column("fill_line_ul", sa.Integer(), nullable=False),
        sa.Column("held_ul", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("previous_contents", sa.String(), nullable=False),
        sa.Column("washed", sa.Boolean(), nullable=False),
        sa.Column("opened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("first_pour_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "state IN ('open', 'closed', 'collected')", name=op.f("ck_waste_container_state_is_known")
        ),
        sa.CheckConstraint(
            "fill_line_ul > 0 AND fill_line_ul <= size_ul", name=op.f("ck_waste_container_fill_line_inside")
        ),
        sa.CheckConstraint("held_ul >= 0", name=op.f("ck_waste_container_held_ul_not_negative")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_waste_container_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["stream_id"], ["stream.id"], name=op.f("fk_waste_container_stream_id_stream")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_waste_container")),
        sa.UniqueConstraint("lab_id", "name", name=op.f("uq_waste_container_lab_id_name")),
    )
    with op.batch_alter_table("waste_container", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_waste_container_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_waste_container_stream_id"), ["stream_id"], unique=False)

    op.create_table(
        "bottle_entry",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("bottle_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("change_ul", sa.Integer(), nullable=False),
        sa.Column("batch_number", sa.Integer(), nullable=True),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("entered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("entered_by", sa.String(), nullable=False),
        sa.CheckConstraint(
            "kind IN ('arrived', 'mixed', 'discarded', 'correction')",
            name=op.f("ck_bottle_entry_kind_is_known"),
        ),
        sa.ForeignKeyConstraint(["bottle_id"], ["bottle.id"], name=op.f("fk_bottle_entry_bottle_id_bottle")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_bottle_entry_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bottle_entry")),
    )
    with op.batch_alter_table("bottle_entry", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_bottle_entry_bottle_id"), ["bottle_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_bottle_entry_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "charge",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=False),
        sa.Column("place_id", sa.Integer(), nullable=False),
        sa.Column("volume_ul", sa.Integer(), nullable=False),
        sa.Column("plates", sa.Integer(), nullable=False),
        sa.Column("plates_at_most", sa.Integer(), nullable=False),
        sa.Column("poured_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("emptied_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("plates >= 0", name=op.f("ck_charge_plates_not_negative")),
        sa.CheckConstraint("volume_ul > 0", name=op.f("ck_charge_has_a_volume")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_charge_batch_id_batch")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_charge_lab_id_lab")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_charge_place_id_place")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_charge")),
    )
    with op.batch_alter_table("charge", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_charge_batch_id"), ["batch_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_charge_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_charge_place_id"), ["place_id"], unique=False)

    op.create_table(
        "group_plates",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("rotation_id", sa.Integer(), nullable=False),
        sa.Column("group_id", sa.Integer(), nullable=False),
        sa.Column("plates", sa.Integer(), nullable=False),
        sa.CheckConstraint("plates >= 0", name=op.f("ck_group_plates_plates_not_negative")),
        sa.ForeignKeyConstraint(
            ["group_id"], ["student_group.id"], name=op.f("fk_group_plates_group_id_student_group")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_group_plates_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["rotation_id"], ["rotation.id"], name=op.f("fk_group_plates_rotation_id_rotation")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_group_plates")),
        sa.UniqueConstraint("rotation_id", "group_id", name=op.f("uq_group_plates_rotation_id_group_id")),
    )
    with op.batch_alter_table("group_plates", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_group_plates_group_id"), ["group_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_group_plates_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_group_plates_rotation_id"), ["rotation_id"], unique=False)

    op.create_table(
        "meter_reading",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("place_id", sa.Integer(), nullable=False),
        sa.Column("irradiance_nw_per_cm2", sa.Integer(), nullable=False),
        sa.Column("tilt_deg", sa.Integer(), nullable=False),
        sa.Column("read_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("read_by", sa.String(), nullable=False),
        sa.CheckConstraint("irradiance_nw_per_cm2 > 0", name=op.f("ck_meter_reading_shows_light")),
        sa.CheckConstraint("tilt_deg >= 0 AND tilt_deg < 90", name=op.f("ck_meter_reading_tilt_below_90")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_meter_reading_lab_id_lab")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_meter_reading_place_id_place")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_meter_reading")),
    )
    with op.batch_alter_table("meter_reading", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_meter_reading_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_meter_reading_place_id"), ["place_id"], unique=False)

    op.create_table(
        "period",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("rotation_id", sa.Integer(), nullable=False),
        sa.Column("starts_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("ends_at > starts_at", name=op.f("ck_period_ends_after_it_starts")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_period_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["rotation_id"], ["rotation.id"], name=op.f("fk_period_rotation_id_rotation")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_period")),
    )
    with op.batch_alter_table("period", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_period_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_period_rotation_id"), ["rotation_id"], unique=False)

    op.create_table(
        "rotation_plan",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("rotation_id", sa.Integer(), nullable=False),
        sa.Column("status", sa.String(), nullable=False),
        sa.Column("makespan_s", sa.Integer(), nullable=False),
        sa.Column("bound_s", sa.Integer(), nullable=False),
        sa.Column("whiteboard_s", sa.Integer(), nullable=True),
        sa.Column("plates_planned", sa.Integer(), nullable=False),
        sa.Column("plates_unplaced", sa.Integer(), nullable=False),
        sa.Column("unplaced", sa.String(), nullable=False),
        sa.Column("reasons", sa.String(), nullable=False),
        sa.Column("class_file", sa.String(), nullable=False),
        sa.Column("seed", sa.Integer(), nullable=False),
        sa.Column("starts_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint(
            "status IN ('optimal', 'feasible', 'partial', 'impossible')",
            name=op.f("ck_rotation_plan_status_is_known"),
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_rotation_plan_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["rotation_id"], ["rotation.id"], name=op.f("fk_rotation_plan_rotation_id_rotation")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rotation_plan")),
        sa.UniqueConstraint("rotation_id", name=op.f("uq_rotation_plan_rotation_id")),
    )
    with op.batch_alter_table("rotation_plan", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_rotation_plan_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_rotation_plan_rotation_id"), ["rotation_id"], unique=False)

    op.create_table(
        "rotation_step",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("rotation_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("at", sa.String(), nullable=False),
        sa.Column("time_from", sa.String(), nullable=False),
        sa.Column("seconds", sa.Integer(), nullable=False),
        sa.Column("light", sa.String(), nullable=False),
        sa.Column("still", sa.String(), nullable=False),
        sa.Column("max_wait_s", sa.Integer(), nullable=True),
        sa.Column("attended", sa.Boolean(), nullable=False),
        sa.CheckConstraint(
            "at IN ('station', 'developer', 'rinse', 'bleach', 'wash', 'dryer', 'bench', 'same')",
            name=op.f("ck_rotation_step_at_is_known"),
        ),
        sa.CheckConstraint("light IN ('dark', 'lit', 'any')", name=op.f("ck_rotation_step_light_is_known")),
        sa.CheckConstraint(
            "still IN ('still', 'moves', 'any')", name=op.f("ck_rotation_step_still_is_known")
        ),
        sa.CheckConstraint(
            "time_from IN ('own', 'settle', 'exposure')", name=op.f("ck_rotation_step_time_from_is_known")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_rotation_step_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["rotation_id"], ["rotation.id"], name=op.f("fk_rotation_step_rotation_id_rotation")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rotation_step")),
        sa.UniqueConstraint("rotation_id", "position", name=op.f("uq_rotation_step_rotation_id_position")),
    )
    with op.batch_alter_table("rotation_step", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_rotation_step_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_rotation_step_rotation_id"), ["rotation_id"], unique=False)

    op.create_table(
        "sign_in",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("token_hash", sa.String(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("group_id", sa.Integer(), nullable=True),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint(
            "(person_id IS NULL) <> (group_id IS NULL)", name=op.f("ck_sign_in_is_a_person_or_a_group")
        ),
        sa.ForeignKeyConstraint(
            ["group_id"], ["student_group.id"], name=op.f("fk_sign_in_group_id_student_group")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_sign_in_lab_id_lab")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_sign_in_person_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_in")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_sign_in_token_hash")),
    )
    with op.batch_alter_table("sign_in", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sign_in_group_id"), ["group_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_sign_in_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_sign_in_person_id"), ["person_id"], unique=False)

    op.create_table(
        "student",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("section_id", sa.Integer(), nullable=False),
        sa.Column("group_id", sa.Integer(), nullable=True),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("letter", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["group_id"], ["student_group.id"], name=op.f("fk_student_group_id_student_group")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_student_lab_id_lab")),
        sa.ForeignKeyConstraint(["section_id"], ["section.id"], name=op.f("fk_student_section_id_section")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_student")),
    )
    with op.batch_alter_table("student", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_student_group_id"), ["group_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_student_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_student_section_id"), ["section_id"], unique=False)

    op.create_table(
        "batch_entry",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("change_ul", sa.Integer(), nullable=False),
        sa.Column("charge_id", sa.Integer(), nullable=True),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("entered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("entered_by", sa.String(), nullable=False),
        sa.CheckConstraint(
            "kind IN ('mixed', 'charged', 'discarded', 'correction')",
            name=op.f("ck_batch_entry_kind_is_known"),
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_batch_entry_batch_id_batch")),
        sa.ForeignKeyConstraint(["charge_id"], ["charge.id"], name=op.f("fk_batch_entry_charge_id_charge")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_batch_entry_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batch_entry")),
    )
    with op.batch_alter_table("batch_entry", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_batch_entry_batch_id"), ["batch_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_batch_entry_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "run",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("tablet_id", sa.String(), nullable=False),
        sa.Column("section_id", sa.Integer(), nullable=False),
        sa.Column("group_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("rotation_id", sa.Integer(), nullable=True),
        sa.Column("plate_box_id", sa.Integer(), nullable=False),
        sa.Column("place_id", sa.Integer(), nullable=False),
        sa.Column("charge_id", sa.Integer(), nullable=True),
        sa.Column("settle_s", sa.Integer(), nullable=False),
        sa.Column("exposure_s", sa.Integer(), nullable=False),
        sa.Column("develop_s", sa.Integer(), nullable=True),
        sa.Column("incident", sa.String(), nullable=False),
        sa.Column("comment", sa.String(), nullable=False),
        sa.Column("exposed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("filed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("verdict", sa.Integer(), nullable=True),
        sa.Column("verdict_comment", sa.String(), nullable=False),
        sa.Column("verdict_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "incident IN ('none', 'moved', 'light', 'dropped')", name=op.f("ck_run_incident_is_known")
        ),
        sa.CheckConstraint(
            "verdict IS NULL OR verdict BETWEEN 0 AND 4", name=op.f("ck_run_verdict_from_0_to_4")
        ),
        sa.ForeignKeyConstraint(["charge_id"], ["charge.id"], name=op.f("fk_run_charge_id_charge")),
        sa.ForeignKeyConstraint(
            ["group_id"], ["student_group.id"], name=op.f("fk_run_group_id_student_group")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_run_lab_id_lab")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_run_place_id_place")),
        sa.ForeignKeyConstraint(
            ["plate_box_id"], ["plate_box.id"], name=op.f("fk_run_plate_box_id_plate_box")
        ),
        sa.ForeignKeyConstraint(["rotation_id"], ["rotation.id"], name=op.f("fk_run_rotation_id_rotation")),
        sa.ForeignKeyConstraint(["section_id"], ["section.id"], name=op.f("fk_run_section_id_section")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run")),
        sa.UniqueConstraint("lab_id", "tablet_id", name=op.f("uq_run_lab_id_tablet_id")),
        sa.UniqueConstraint("section_id", "number", name=op.f("uq_run_section_id_number")),
    )
    with op.batch_alter_table("run", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_run_charge_id"), ["charge_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_run_group_id"), ["group_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_run_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_run_place_id"), ["place_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_run_plate_box_id"), ["plate_box_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_run_rotation_id"), ["rotation_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_run_section_id"), ["section_id"], unique=False)

    op.create_table(
        "visit",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("plan_id", sa.Integer(), nullable=False),
        sa.Column("group_id", sa.Integer(), nullable=False),
        sa.Column("pass_no", sa.Integer(), nullable=False),
        sa.Column("step", sa.String(), nullable=False),
        sa.Column("place", sa.String(), nullable=False),
        sa.Column("light", sa.String(), nullable=False),
        sa.Column("still", sa.String(), nullable=False),
        sa.Column("starts_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["group_id"], ["student_group.id"], name=op.f("fk_visit_group_id_student_group")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_visit_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["plan_id"], ["rotation_plan.id"], name=op.f("fk_visit_plan_id_rotation_plan")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_visit")),
    )
    with op.batch_alter_table("visit", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_visit_group_id"), ["group_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_visit_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_visit_plan_id"), ["plan_id"], unique=False)

    op.create_table(
        "waste_entry",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("tablet_id", sa.String(), nullable=False),
        sa.Column("container_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("source", sa.String(), nullable=False),
        sa.Column("change_ul", sa.Integer(), nullable=False),
        sa.Column("typed", sa.String(), nullable=False),
        sa.Column("method", sa.String(), nullable=False),
        sa.Column("charge_id", sa.Integer(), nullable=True),
        sa.Column("pickup_id", sa.Integer(), nullable=True),
        sa.Column("reverses_id", sa.Integer(), nullable=True),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("entered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("entered_by", sa.String(), nullable=False),
        sa.CheckConstraint(
            "kind IN ('pour', 'collected', 'correction')", name=op.f("ck_waste_entry_kind_is_known")
        ),
        sa.CheckConstraint(
            "method IN ('graduate', 'scale', 'estimate', 'sum of entries')",
            name=op.f("ck_waste_entry_method_is_known"),
        ),
        sa.CheckConstraint(
            "source IN ('spent developer', 'spent bleach', 'rinse', 'other')",
            name=op.f("ck_waste_entry_source_is_known"),
        ),
        sa.ForeignKeyConstraint(["charge_id"], ["charge.id"], name=op.f("fk_waste_entry_charge_id_charge")),
        sa.ForeignKeyConstraint(
            ["container_id"], ["waste_container.id"], name=op.f("fk_waste_entry_container_id_waste_container")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_waste_entry_lab_id_lab")),
        sa.ForeignKeyConstraint(["pickup_id"], ["pickup.id"], name=op.f("fk_waste_entry_pickup_id_pickup")),
        sa.ForeignKeyConstraint(
            ["reverses_id"], ["waste_entry.id"], name=op.f("fk_waste_entry_reverses_id_waste_entry")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_waste_entry")),
        sa.UniqueConstraint("lab_id", "tablet_id", name=op.f("uq_waste_entry_lab_id_tablet_id")),
        sa.UniqueConstraint("reverses_id", name=op.f("uq_waste_entry_reverses_id")),
    )
    with op.batch_alter_table("waste_entry", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_waste_entry_charge_id"), ["charge_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_waste_entry_container_id"), ["container_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_waste_entry_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_waste_entry_pickup_id"), ["pickup_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("waste_entry", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_waste_entry_pickup_id"))
        batch_op.drop_index(batch_op.f("ix_waste_entry_lab_id"))
        batch_op.drop_index(batch_op.f("ix_waste_entry_container_id"))
        batch_op.drop_index(batch_op.f("ix_waste_entry_charge_id"))

    op.drop_table("waste_entry")
    with op.batch_alter_table("visit", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_visit_plan_id"))
        batch_op.drop_index(batch_op.f("ix_visit_lab_id"))
        batch_op.drop_index(batch_op.f("ix_visit_group_id"))

    op.drop_table("visit")
    with op.batch_alter_table("run", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_run_section_id"))
        batch_op.drop_index(batch_op.f("ix_run_rotation_id"))
        batch_op.drop_index(batch_op.f("ix_run_plate_box_id"))
        batch_op.drop_index(batch_op.f("ix_run_place_id"))
        batch_op.drop_index(batch_op.f("ix_run_lab_id"))
        batch_op.drop_index(batch_op.f("ix_run_group_id"))
        batch_op.drop_index(batch_op.f("ix_run_charge_id"))

    op.drop_table("run")
    with op.batch_alter_table("batch_entry", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_batch_entry_lab_id"))
        batch_op.drop_index(batch_op.f("ix_batch_entry_batch_id"))

    op.drop_table("batch_entry")
    with op.batch_alter_table("student", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_student_section_id"))
        batch_op.drop_index(batch_op.f("ix_student_lab_id"))
        batch_op.drop_index(batch_op.f("ix_student_group_id"))

    op.drop_table("student")
    with op.batch_alter_table("sign_in", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_sign_in_person_id"))
        batch_op.drop_index(batch_op.f("ix_sign_in_lab_id"))
        batch_op.drop_index(batch_op.f("ix_sign_in_group_id"))

    op.drop_table("sign_in")
    with op.batch_alter_table("rotation_step", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_rotation_step_rotation_id"))
        batch_op.drop_index(batch_op.f("ix_rotation_step_lab_id"))

    op.drop_table("rotation_step")
    with op.batch_alter_table("rotation_plan", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_rotation_plan_rotation_id"))
        batch_op.drop_index(batch_op.f("ix_rotation_plan_lab_id"))

    op.drop_table("rotation_plan")
    with op.batch_alter_table("period", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_period_rotation_id"))
        batch_op.drop_index(batch_op.f("ix_period_lab_id"))

    op.drop_table("period")
    with op.batch_alter_table("meter_reading", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_meter_reading_place_id"))
        batch_op.drop_index(batch_op.f("ix_meter_reading_lab_id"))

    op.drop_table("meter_reading")
    with op.batch_alter_table("group_plates", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_group_plates_rotation_id"))
        batch_op.drop_index(batch_op.f("ix_group_plates_lab_id"))
        batch_op.drop_index(batch_op.f("ix_group_plates_group_id"))

    op.drop_table("group_plates")
    with op.batch_alter_table("charge", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_charge_place_id"))
        batch_op.drop_index(batch_op.f("ix_charge_lab_id"))
        batch_op.drop_index(batch_op.f("ix_charge_batch_id"))

    op.drop_table("charge")
    with op.batch_alter_table("bottle_entry", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_bottle_entry_lab_id"))
        batch_op.drop_index(batch_op.f("ix_bottle_entry_bottle_id"))

    op.drop_table("bottle_entry")
    with op.batch_alter_table("waste_container", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_waste_container_stream_id"))
        batch_op.drop_index(batch_op.f("ix_waste_container_lab_id"))

    op.drop_table("waste_container")
    with op.batch_alter_table("student_group", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_student_group_section_id"))
        batch_op.drop_index(batch_op.f("ix_student_group_lab_id"))

    op.drop_table("student_group")
    with op.batch_alter_table("rotation", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_rotation_section_id"))
        batch_op.drop_index(batch_op.f("ix_rotation_lab_id"))

    op.drop_table("rotation")
    with op.batch_alter_table("plate_entry", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_plate_entry_run_id"))
        batch_op.drop_index(batch_op.f("ix_plate_entry_plate_box_id"))
        batch_op.drop_index(batch_op.f("ix_plate_entry_lab_id"))

    op.drop_table("plate_entry")
    with op.batch_alter_table("place", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_place_tray_line_id"))
        batch_op.drop_index(batch_op.f("ix_place_still_zone_id"))
        batch_op.drop_index(batch_op.f("ix_place_light_zone_id"))
        batch_op.drop_index(batch_op.f("ix_place_lab_id"))

    op.drop_table("place")
    with op.batch_alter_table("bottle", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_bottle_lab_id"))
        batch_op.drop_index(batch_op.f("ix_bottle_kit_id"))

    op.drop_table("bottle")
    with op.batch_alter_table("usual_quantities", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_usual_quantities_lab_id"))

    op.drop_table("usual_quantities")
    with op.batch_alter_table("tray_line", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_tray_line_lab_id"))

    op.drop_table("tray_line")
    with op.batch_alter_table("stream", schema=None) as batch_op:
        batch_op.drop_index(
            "uq_stream_one_per_source",
            sqlite_where=sa.text("takes <> 'other'"),
            postgresql_where=sa.text("takes <> 'other'"),
        )
        batch_op.drop_index(batch_op.f("ix_stream_lab_id"))

    op.drop_table("stream")
    with op.batch_alter_table("still_zone", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_still_zone_lab_id"))

    op.drop_table("still_zone")
    with op.batch_alter_table("section", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_section_lab_id"))

    op.drop_table("section")
    with op.batch_alter_table("safety_round", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_safety_round_lab_id"))

    op.drop_table("safety_round")
    with op.batch_alter_table("prep_tick", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_prep_tick_lab_id"))

    op.drop_table("prep_tick")
    with op.batch_alter_table("plate_box", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_plate_box_lab_id"))

    op.drop_table("plate_box")
    with op.batch_alter_table("pickup", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_pickup_lab_id"))

    op.drop_table("pickup")
    with op.batch_alter_table("person", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_person_lab_id"))

    op.drop_table("person")
    with op.batch_alter_table("light_zone", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_light_zone_lab_id"))

    op.drop_table("light_zone")
    with op.batch_alter_table("kit", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_kit_lab_id"))

    op.drop_table("kit")
    with op.batch_alter_table("batch", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_batch_lab_id"))

    op.drop_table("batch")
    op.drop_table("set_up_code")
    op.drop_table("lab")
