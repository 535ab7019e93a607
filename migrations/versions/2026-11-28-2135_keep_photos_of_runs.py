"""keep photos of runs"""

import sqlalchemy as sa
from alembic import op

revision = "4357ff27882a"
down_revision = "743ae302a164"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "photo",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("tablet_id", sa.String(), nullable=False),
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("jpeg", sa.LargeBinary(), nullable=True),
        sa.Column("width_px", sa.Integer(), nullable=False),
        sa.Column("height_px", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(), nullable=False),
        sa.Column("taken_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("kept_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("kept_by", sa.String(), nullable=False),
        sa.Column("removed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("removed_by", sa.String(), nullable=False),
        sa.CheckConstraint(
            "(removed_at IS NULL) = (jpeg IS NOT NULL)", name=op.f("ck_photo_is_there_or_removed")
        ),
        sa.CheckConstraint("width_px > 0 AND height_px > 0", name=op.f("ck_photo_has_a_size")),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_photo_lab_id_lab")),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_photo_run_id_run")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo")),
        sa.UniqueConstraint("lab_id", "tablet_id", name=op.f("uq_photo_lab_id_tablet_id")),
    )
    with op.batch_alter_table("photo", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_photo_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_photo_run_id"), ["run_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("photo", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_photo_run_id"))
        batch_op.drop_index(batch_op.f("ix_photo_lab_id"))

    op.drop_table("photo")
