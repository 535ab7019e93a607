"""keep rubrics and marks"""

import sqlalchemy as sa
from alembic import op

revision = "743ae302a164"
down_revision = "913c64b5c843"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "rubric",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_rubric_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rubric")),
        sa.UniqueConstraint("lab_id", "name", name=op.f("uq_rubric_lab_id_name")),
    )
    with op.batch_alter_table("rubric", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_rubric_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "rubric_edition",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("rubric_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("is_assumed", sa.Boolean(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("made_by", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_rubric_edition_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["rubric_id"], ["rubric.id"], name=op.f("fk_rubric_edition_rubric_id_rubric")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rubric_edition")),
        sa.UniqueConstraint("rubric_id", "number", name=op.f("uq_rubric_edition_rubric_id_number")),
    )
    with op.batch_alter_table("rubric_edition", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_rubric_edition_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_rubric_edition_rubric_id"), ["rubric_id"], unique=False)

    op.create_table(
        "marking",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("section_id", sa.Integer(), nullable=False),
        sa.Column("edition_id", sa.Integer(), nullable=False),
        sa.Column("notes_within_s", sa.Integer(), nullable=False),
        sa.CheckConstraint("notes_within_s >= 0", name=op.f("ck_marking_notes_within_s_not_negative")),
        sa.ForeignKeyConstraint(
            ["edition_id"], ["rubric_edition.id"], name=op.f("fk_marking_edition_id_rubric_edition")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_marking_lab_id_lab")),
        sa.ForeignKeyConstraint(["section_id"], ["section.id"], name=op.f("fk_marking_section_id_section")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_marking")),
        sa.UniqueConstraint("section_id", name=op.f("uq_marking_section_id")),
    )
    with op.batch_alter_table("marking", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_marking_edition_id"), ["edition_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_marking_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_marking_section_id"), ["section_id"], unique=False)

    op.create_table(
        "rubric_criterion",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("edition_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("says", sa.String(), nullable=False),
        sa.Column("by", sa.String(), nullable=False),
        sa.Column("weight_hundredths", sa.Integer(), nullable=False),
        sa.CheckConstraint("by IN ('student', 'group')", name=op.f("ck_rubric_criterion_by_is_known")),
        sa.CheckConstraint("weight_hundredths > 0", name=op.f("ck_rubric_criterion_has_a_weight")),
        sa.ForeignKeyConstraint(
            ["edition_id"], ["rubric_edition.id"], name=op.f("fk_rubric_criterion_edition_id_rubric_edition")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_rubric_criterion_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rubric_criterion")),
        sa.UniqueConstraint("edition_id", "position", name=op.f("uq_rubric_criterion_edition_id_position")),
    )
    with op.batch_alter_table("rubric_criterion", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_rubric_criterion_edition_id"), ["edition_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_rubric_criterion_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "rubric_level",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("criterion_id", sa.Integer(), nullable=False),
        sa.Column("points_hundredths", sa.Integer(), nullable=False),
        sa.Column("says", sa.String(), nullable=False),
        sa.CheckConstraint(
            "points_hundredths >= 0", name=op.f("ck_rubric_level_points_hundredths_not_negative")
        ),
        sa.ForeignKeyConstraint(
            ["criterion_id"],
            ["rubric_criterion.id"],
            name=op.f("fk_rubric_level_criterion_id_rubric_criterion"),
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_rubric_level_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rubric_level")),
        sa.UniqueConstraint(
            "criterion_id", "points_hundredths", name=op.f("uq_rubric_level_criterion_id_points_hundredths")
        ),
    )
    with op.batch_alter_table("rubric_level", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_rubric_level_criterion_id"), ["criterion_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_rubric_level_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "mark",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("section_id", sa.Integer(), nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=True),
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("group_id", sa.Integer(), nullable=True),
        sa.Column("criterion_id", sa.Integer(), nullable=False),
        sa.Column("level_id", sa.Integer(), nullable=True),
        sa.Column("is_own", sa.Boolean(), nullable=False),
        sa.Column("points_hundredths", sa.Integer(), nullable=True),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("given_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("given_by", sa.String(), nullable=False),
        sa.CheckConstraint("NOT is_own OR level_id IS NULL", name=op.f("ck_mark_a_level_is_not_of_ones_own")),
        sa.CheckConstraint(
            "is_own OR points_hundredths IS NULL", name=op.f("ck_mark_points_are_of_ones_own")
        ),
        sa.CheckConstraint("points_hundredths >= 0", name=op.f("ck_mark_points_hundredths_not_negative")),
        sa.ForeignKeyConstraint(
            ["criterion_id"], ["rubric_criterion.id"], name=op.f("fk_mark_criterion_id_rubric_criterion")
        ),
        sa.ForeignKeyConstraint(
            ["group_id"], ["student_group.id"], name=op.f("fk_mark_group_id_student_group")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_mark_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["level_id"], ["rubric_level.id"], name=op.f("fk_mark_level_id_rubric_level")
        ),
        sa.ForeignKeyConstraint(["section_id"], ["section.id"], name=op.f("fk_mark_section_id_section")),
        sa.ForeignKeyConstraint(
            ["student_id"], ["student.id"], name=op.f("fk_mark_student_id_student"), ondelete="SET NULL"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_mark")),
    )
    with op.batch_alter_table("mark", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_mark_criterion_id"), ["criterion_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_mark_group_id"), ["group_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_mark_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_mark_level_id"), ["level_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_mark_section_id"), ["section_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_mark_student_id"), ["student_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("mark", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_mark_student_id"))
        batch_op.drop_index(batch_op.f("ix_mark_section_id"))
        batch_op.drop_index(batch_op.f("ix_mark_level_id"))
        batch_op.drop_index(batch_op.f("ix_mark_lab_id"))
        batch_op.drop_index(batch_op.f("ix_mark_group_id"))
        batch_op.drop_index(batch_op.f("ix_mark_criterion_id"))

    op.drop_table("mark")
    with op.batch_alter_table("rubric_level", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_rubric_level_lab_id"))
        batch_op.drop_index(batch_op.f("ix_rubric_level_criterion_id"))

    op.drop_table("rubric_level")
    with op.batch_alter_table("rubric_criterion", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_rubric_criterion_lab_id"))
        batch_op.drop_index(batch_op.f("ix_rubric_criterion_edition_id"))

    op.drop_table("rubric_criterion")
    with op.batch_alter_table("marking", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_marking_section_id"))
        batch_op.drop_index(batch_op.f("ix_marking_lab_id"))
        batch_op.drop_index(batch_op.f("ix_marking_edition_id"))

    op.drop_table("marking")
    with op.batch_alter_table("rubric_edition", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_rubric_edition_rubric_id"))
        batch_op.drop_index(batch_op.f("ix_rubric_edition_lab_id"))

    op.drop_table("rubric_edition")
    with op.batch_alter_table("rubric", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_rubric_lab_id"))

    op.drop_table("rubric")
