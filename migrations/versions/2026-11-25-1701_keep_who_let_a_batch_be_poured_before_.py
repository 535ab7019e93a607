"""keep who let a batch be poured before it had stood"""

import sqlalchemy as sa
from alembic import op

revision = "18a1831109ae"
down_revision = "59c3fadd3924"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "early_pouring",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("allowed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("allowed_by", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_early_pouring_batch_id_batch")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_early_pouring_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_early_pouring")),
        sa.UniqueConstraint("batch_id", name=op.f("uq_early_pouring_batch_id")),
    )
    with op.batch_alter_table("early_pouring", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_early_pouring_lab_id"), ["lab_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("early_pouring", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_early_pouring_lab_id"))

    op.drop_table("early_pouring")
