"""keep what left a batch or a bottle with a pour"""

import sqlalchemy as sa
from alembic import op

revision = "e3b7f0a9d512"
down_revision = "46d3d3a32734"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("waste_entry", schema=None) as batch_op:
        batch_op.add_column(sa.Column("discarded_ul", sa.Integer(), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("waste_entry", schema=None) as batch_op:
        batch_op.drop_column("discarded_ul")
