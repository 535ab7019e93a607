"""keep on which day the waste office determined what is in a container"""

import sqlalchemy as sa
from alembic import op

revision = "b58f0c6d91e7"
down_revision = "5c1d7e0b93af"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("determination") as batch_op:
        batch_op.add_column(sa.Column("determined_on", sa.Date(), nullable=True))
        batch_op.create_index("ix_determination_determined_on", ["lab_id", "determined_on"], unique=False)
    determination = sa.table(
        "determination",
        sa.column("id", sa.Integer()),
        sa.column("said", sa.String()),
        sa.column("entered_at", sa.DateTime(timezone=True)),
        sa.column("determined_on", sa.Date()),
    )
    # Nobody was asked for the day; it was written down by then at the latest.
    said = op.get_bind().execute(
        sa.select(determination.c.id, determination.c.entered_at).where(determination.c.said != "")
    )
    for row_id, entered_at in said.all():
        op.execute(
            determination.update().where(determination.c.id == row_id).values(determined_on=entered_at.date())
        )


def downgrade() -> None:
    with op.batch_alter_table("determination") as batch_op:
        batch_op.drop_index("ix_determination_determined_on")
        batch_op.drop_column("determined_on")
