"""keep whose a mark was"""

import sqlalchemy as sa
from alembic import op

revision = "b2f08e4c6d17"
down_revision = "7c1e94d05ab3"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("mark", schema=None) as batch_op:
        batch_op.add_column(sa.Column("given_to", sa.Integer(), nullable=True))
    op.execute("UPDATE mark SET given_to = student_id")


def downgrade() -> None:
    with op.batch_alter_table("mark", schema=None) as batch_op:
        batch_op.drop_column("given_to")
