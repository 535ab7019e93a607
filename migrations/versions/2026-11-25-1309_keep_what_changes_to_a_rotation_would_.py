"""keep what changes to a rotation would bring"""

import sqlalchemy as sa
from alembic import op

revision = "ba63b8fb6a7b"
down_revision = "771630e4347e"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "what_if_set",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("rotation_id", sa.Integer(), nullable=False),
        sa.Column("digest", sa.String(), nullable=False),
        sa.Column("asked_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("done_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_what_if_set_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["rotation_id"], ["rotation.id"], name=op.f("fk_what_if_set_rotation_id_rotation")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_what_if_set")),
        sa.UniqueConstraint("rotation_id", name=op.f("uq_what_if_set_rotation_id")),
    )
    with op.batch_alter_table("what_if_set", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_what_if_set_lab_id"), ["lab_id"], unique=False)

    op.create_table(
        "what_if_line",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("set_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("placed", sa.Integer(), nullable=False),
        sa.Column("plates", sa.Integer(), nullable=False),
        sa.Column("makespan_s", sa.Integer(), nullable=False),
        sa.Column("bound_s", sa.Integer(), nullable=False),
        sa.Column("most", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_what_if_line_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["set_id"], ["what_if_set.id"], name=op.f("fk_what_if_line_set_id_what_if_set")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_what_if_line")),
        sa.UniqueConstraint("set_id", "key", name=op.f("uq_what_if_line_set_id_key")),
    )
    with op.batch_alter_table("what_if_line", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_what_if_line_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_what_if_line_set_id"), ["set_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("what_if_line", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_what_if_line_set_id"))
        batch_op.drop_index(batch_op.f("ix_what_if_line_lab_id"))

    op.drop_table("what_if_line")
    with op.batch_alter_table("what_if_set", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_what_if_set_lab_id"))

    op.drop_table("what_if_set")
