"""keep what is called beside what was planned"""

import sqlalchemy as sa
from alembic import op

revision = "e6b7dde479c6"
down_revision = "e3b7f0a9d512"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "called_class",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("rotation_id", sa.Integer(), nullable=False),
        sa.Column("begun_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("begun_by", sa.String(), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ended_by", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_called_class_lab_id_lab")),
        sa.ForeignKeyConstraint(
            ["rotation_id"], ["rotation.id"], name=op.f("fk_called_class_rotation_id_rotation")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_called_class")),
    )
    with op.batch_alter_table("called_class", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_called_class_lab_id"), ["lab_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_called_class_rotation_id"), ["rotation_id"], unique=False)

    op.create_table(
        "call_event",
        sa.Column("lab_id", sa.Integer(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("class_id", sa.Integer(), nullable=False),
        sa.Column("tablet_id", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("answers", sa.String(), nullable=False),
        sa.Column("begins", sa.String(), nullable=False),
        sa.Column("repeats", sa.String(), nullable=False),
        sa.Column("in_round_of", sa.String(), nullable=False),
        sa.Column("words", sa.String(), nullable=False),
        sa.Column("planned_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("happened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("kept_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("called_by", sa.String(), nullable=False),
        sa.CheckConstraint(
            "kind IN ('called', 'undone', 'paused', 'resumed', 'repeat', 'left out', 'caught up', 'stopped', 'clear', 'taken up')",
            name=op.f("ck_call_event_kind_is_known"),
        ),
        sa.ForeignKeyConstraint(
            ["class_id"], ["called_class.id"], name=op.f("fk_call_event_class_id_called_class")
        ),
        sa.ForeignKeyConstraint(["lab_id"], ["lab.id"], name=op.f("fk_call_event_lab_id_lab")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_call_event")),
        sa.UniqueConstraint("lab_id", "tablet_id", name=op.f("uq_call_event_lab_id_tablet_id")),
    )
    with op.batch_alter_table("call_event", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_call_event_class_id"), ["class_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_call_event_lab_id"), ["lab_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("call_event", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_call_event_lab_id"))
        batch_op.drop_index(batch_op.f("ix_call_event_class_id"))

    op.drop_table("call_event")
    with op.batch_alter_table("called_class", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_called_class_rotation_id"))
        batch_op.drop_index(batch_op.f("ix_called_class_lab_id"))

    op.drop_table("called_class")
