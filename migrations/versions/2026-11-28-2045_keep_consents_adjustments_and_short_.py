"""keep consents, adjustments and short names"""

import re

import sqlalchemy as sa
from alembic import op

revision = "913c64b5c843"
down_revision = "e6b7dde479c6"
branch_labels = None
depends_on = None


def _propose_short_names() -> None:
    """The first letters of each section's name, and a number where another one of the lab has them."""
    bind = op.get_bind()
    taken: set[tuple[int, str]] = set()
    for section_id, lab_id, name in bind.execute(
        sa.text("SELECT id, lab_id, name FROM section ORDER BY id")
    ).all():
        word = "".join(re.findall("[A-Za-z]", name))[:3].capitalize() or "Sec"
        proposed, number = word, 1
        while (lab_id, proposed) in taken:
            number += 1
            proposed = f"{word[: 6 - len(str(number))]}{number}"
        taken.add((lab_id, proposed))
        bind.execute(
            sa.text("UPDATE section SET short_name = :proposed WHERE id = :section_id"),
            {"proposed": proposed, "section_id": section_id},
        )


def upgrade() -> None:
    op.create_table(
        "wrong_try",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("tried", sa.String(), nullable=False),
        sa.Column("times", sa.Integer(), nullable=False),
        sa.Column("last_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_wrong_try")),
        sa.UniqueConstraint("tried", name=op.f("uq_wrong_try_tried")),
    )
    with op.batch_alter_table("wrong_try", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_wrong_try_last_at"), ["last_at"], unique=False)

    op.create_table(
        "absence",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_absence_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["student_id"], ["student.id"], name=op.f("fk_absence_student_id_student"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_absence")),
        sa.UniqueConstraint("student_id", "day", name=op.f("uq_absence_student_id_day")),
    )
    with op.batch_alter_table("absence", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_absence_day"), ["day"], unique=False)
        batch_op.create_index(batch_op.f("ix_absence_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_absence_student_id"), ["student_id"], unique=False)

    op.create_table(
        "adjustment",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=False),
        sa.Column("arrangement", sa.String(), nullable=False),
        sa.Column("words", sa.String(), nullable=False),
        sa.CheckConstraint(
            "arrangement IN ('lit activities only', 'nitrile gloves', 'place near the door', 'longer time to adapt to the dark', 'low bench station', 'works with a partner', 'large print', 'sound cues', 'visual cues', 'trays marked for the hand', 'more time for each step', 'instructions beforehand, written and spoken', 'other')",
            name=op.f("ck_adjustment_arrangement_is_known"),
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_adjustment_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["student_id"], ["student.id"], name=op.f("fk_adjustment_student_id_student"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_adjustment")),
        sa.UniqueConstraint("student_id", "arrangement", name=op.f("uq_adjustment_student_id_arrangement")),
    )
    with op.batch_alter_table("adjustment", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_adjustment_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_adjustment_student_id"), ["student_id"], unique=False)

    op.create_table(
        "consent",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=False),
        sa.Column("signing", sa.String(), nullable=False),
        sa.Column("given", sa.Boolean(), nullable=False),
        sa.Column("on_day", sa.Date(), nullable=False),
        sa.Column("kept_by", sa.String(), nullable=False),
        sa.Column("kept_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint(
            "signing IN ('safety agreement', 'guardian form', 'photo use')",
            name=op.f("ck_consent_signing_is_known"),
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_consent_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["student_id"], ["student.id"], name=op.f("fk_consent_student_id_student"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_consent")),
    )
    with op.batch_alter_table("consent", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_consent_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_consent_student_id"), ["student_id"], unique=False)

    with op.batch_alter_table("section", schema=None) as batch_op:
        batch_op.add_column(sa.Column("short_name", sa.String(), server_default="", nullable=False))
        batch_op.add_column(sa.Column("term_ends_on", sa.Date(), nullable=True))
        batch_op.add_column(sa.Column("names_erased_at", sa.DateTime(timezone=True), nullable=True))
    _propose_short_names()
    with op.batch_alter_table("section", schema=None) as batch_op:
        batch_op.alter_column("short_name", server_default=None)
        batch_op.create_unique_constraint(
            batch_op.f("uq_section_lab_id_short_name"), ["lab_id", "short_name"]
        )

    with op.batch_alter_table("student", schema=None) as batch_op:
        batch_op.add_column(sa.Column("is_minor", sa.Boolean(), server_default=sa.false(), nullable=False))
    with op.batch_alter_table("student", schema=None) as batch_op:
        batch_op.alter_column("is_minor", server_default=None)
        batch_op.create_unique_constraint(batch_op.f("uq_student_group_id_letter"), ["group_id", "letter"])


def downgrade() -> None:
    with op.batch_alter_table("student", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("uq_student_group_id_letter"), type_="unique")
        batch_op.drop_column("is_minor")

    with op.batch_alter_table("section", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("uq_section_lab_id_short_name"), type_="unique")
        batch_op.drop_column("names_erased_at")
        batch_op.drop_column("term_ends_on")
        batch_op.drop_column("short_name")

    with op.batch_alter_table("consent", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_consent_student_id"))
        batch_op.drop_index(batch_op.f("ix_consent_lab_id"))

    op.drop_table("consent")
    with op.batch_alter_table("adjustment", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_adjustment_student_id"))
        batch_op.drop_index(batch_op.f("ix_adjustment_lab_id"))

    op.drop_table("adjustment")
    with op.batch_alter_table("absence", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_absence_student_id"))
        batch_op.drop_index(batch_op.f("ix_absence_lab_id"))
        batch_op.drop_index(batch_op.f("ix_absence_day"))

    op.drop_table("absence")
    with op.batch_alter_table("wrong_try", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_wrong_try_last_at"))

    op.drop_table("wrong_try")
