"""keep who was in the group of a run"""

import sqlalchemy as sa
from alembic import op

revision = "e4a7d3509c82"
down_revision = "b2f08e4c6d17"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "papers_after",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=False),
        sa.Column("from_day", sa.Date(), nullable=False),
        sa.Column("is_missing", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_papers_after_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["student_id"],
            ["student.id"],
            name=op.f("fk_papers_after_student_id_student"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_papers_after")),
        sa.UniqueConstraint("student_id", "from_day", name=op.f("uq_papers_after_student_id_from_day")),
    )
    with op.batch_alter_table("papers_after", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_papers_after_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_papers_after_student_id"), ["student_id"], unique=False)

    op.create_table(
        "run_member",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=True),
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("letter", sa.String(), nullable=False),
        sa.Column("was_unsigned", sa.Boolean(), nullable=False),
        sa.Column("was_lit_only", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_run_member_lab_id_lab")),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_run_member_run_id_run")),
        sa.ForeignKeyConstraint(
            ["student_id"], ["student.id"], name=op.f("fk_run_member_student_id_student"), ondelete="SET NULL"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run_member")),
        sa.UniqueConstraint("run_id", "letter", name=op.f("uq_run_member_run_id_letter")),
    )
    with op.batch_alter_table("run_member", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_run_member_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_run_member_run_id"), ["run_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_run_member_student_id"), ["student_id"], unique=False)
    # Of runs from before, nobody knows better than who is in the group now.
    op.execute(
        """
        INSERT INTO run_member (lab_id, run_id, student_id, code, letter, was_unsigned, was_lit_only)
        SELECT run.lab_id, run.id, student.id,
               section.short_name || '-G' || student_group.number || '-' || student.letter, student.letter,
               NOT EXISTS (
                   SELECT 1 FROM consent
                   WHERE consent.student_id = student.id AND consent.signing = 'safety agreement' AND consent.given
               ),
               EXISTS (
                   SELECT 1 FROM adjustment
                   WHERE adjustment.student_id = student.id AND adjustment.arrangement = 'lit activities only'
               )
        FROM run
        JOIN student ON student.group_id = run.group_id
        JOIN student_group ON student_group.id = run.group_id
        JOIN section ON section.id = run.section_id
        """
    )


def downgrade() -> None:
    with op.batch_alter_table("run_member", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_run_member_student_id"))
        batch_op.drop_index(batch_op.f("ix_run_member_run_id"))
        batch_op.drop_index(batch_op.f("ix_run_member_lab_id"))

    op.drop_table("run_member")
    with op.batch_alter_table("papers_after", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_papers_after_student_id"))
        batch_op.drop_index(batch_op.f("ix_papers_after_lab_id"))

    op.drop_table("papers_after")
