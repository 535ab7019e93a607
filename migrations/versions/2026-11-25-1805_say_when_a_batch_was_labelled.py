"""say when a batch was labelled"""

import sqlalchemy as sa
from alembic import op

revision = "7f3a5d2c9e61"
down_revision = "18a1831109ae"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("batch", schema=None) as batch_op:
        batch_op.add_column(sa.Column("labelled_at", sa.DateTime(timezone=True), nullable=True))
    op.execute(
        "UPDATE batch SET labelled_at = ("
        "SELECT max(printed_label.printed_at) FROM printed_label WHERE printed_label.batch_id = batch.id)"
    )


def downgrade() -> None:
    with op.batch_alter_table("batch", schema=None) as batch_op:
        batch_op.drop_column("labelled_at")
