"""add proposals of new plans"""

import sqlalchemy as sa
from alembic import op

revision = "771630e4347e"
down_revision = "2d59dd28c4d7"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "proposal",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("rotation_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("words", sa.String(), nullable=False),
        sa.Column("asked_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("asked_by", sa.String(), nullable=False),
        sa.Column("from_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("is_typed", sa.Boolean(), nullable=False),
        sa.Column("starts_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("old_class_file", sa.String(), nullable=False),
        sa.Column("old_answer", sa.String(), nullable=False),
        sa.Column("new_class_file", sa.String(), nullable=False),
        sa.Column("new_answer", sa.String(), nullable=False),
        sa.Column("moved", sa.String(), nullable=False),
        sa.Column("repeating", sa.String(), nullable=False),
        sa.Column("lost", sa.String(), nullable=False),
        sa.Column("bell_s", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("decided_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("decided_by", sa.String(), nullable=False),
        sa.CheckConstraint(
            "kind IN ('late', 'station', 'plate', 'absent', 'spill', 'bell')",
            name=op.f("ck_proposal_kind_is_known"),
        ),
        sa.CheckConstraint(
            "state IN ('proposed', 'taken', 'dropped')", name=op.f("ck_proposal_state_is_known")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_proposal_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["rotation_id"], ["rotation.id"], name=op.f("fk_proposal_rotation_id_rotation")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_proposal")),
    )
    op.create_index(op.f("ix_proposal_lab_id"), "proposal", ["lab_id"])
    op.create_index(op.f("ix_proposal_rotation_id"), "proposal", ["rotation_id"])
    op.add_column("rotation_plan", sa.Column("changed_at", sa.DateTime(timezone=True), nullable=True))
    op.add_column("rotation_plan", sa.Column("lost", sa.String(), nullable=True))


def downgrade() -> None:
    op.drop_column("rotation_plan", "lost")
    op.drop_column("rotation_plan", "changed_at")
    op.drop_table("proposal")
