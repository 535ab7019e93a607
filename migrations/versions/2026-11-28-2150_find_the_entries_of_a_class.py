"""find the entries of a class"""

from alembic import op

revision = "5c1d7e0b93af"
down_revision = "5fbe55db09fe"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("waste_entry", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_waste_entry_rotation_id"))
        batch_op.create_index("ix_waste_entry_of_class", ["rotation_id", "lab_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("waste_entry", schema=None) as batch_op:
        batch_op.drop_index("ix_waste_entry_of_class")
        batch_op.create_index(batch_op.f("ix_waste_entry_rotation_id"), ["rotation_id"], unique=False)
