"""keep since when what is in a container is waste, and since when it waits in a central area"""

import sqlalchemy as sa
from alembic import op

revision = "4c19d7e2ab36"
down_revision = "4357ff27882a"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("waste_container") as batch_op:
        batch_op.add_column(sa.Column("arrived_at", sa.DateTime(timezone=True), nullable=True))
    with op.batch_alter_table("waste_entry") as batch_op:
        batch_op.add_column(sa.Column("began_at", sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column("arrived_at", sa.DateTime(timezone=True), nullable=True))
    # The clock of a central area ran from the later of the start and the carrying.
    op.execute(
        "UPDATE waste_container SET carried_at = NULL WHERE area_id IS NULL "
        "OR area_id IN (SELECT id FROM waste_area WHERE kind <> 'central')"
    )
    op.execute(
        "UPDATE waste_container SET carried_at = opened_at WHERE carried_at IS NULL "
        "AND area_id IN (SELECT id FROM waste_area WHERE kind = 'central')"
    )
    op.execute(
        "UPDATE waste_container SET arrived_at = CASE WHEN carried_at > first_pour_at THEN carried_at ELSE first_pour_at END "
        "WHERE held_ul > 0 AND area_id IN (SELECT id FROM waste_area WHERE kind = 'central')"
    )
    op.execute(
        "UPDATE waste_entry SET began_at = (SELECT coalesce(source.first_pour_at, leg.happened_at) FROM waste_entry AS leg "
        "JOIN waste_container AS source ON source.id = leg.container_id WHERE leg.id = waste_entry.transfer_of_id) "
        "WHERE kind = 'transfer in'"
    )
    op.execute(
        "UPDATE waste_container SET first_pour_at = NULL WHERE held_ul = 0 "
        "AND state IN ('empty', 'open', 'closed', 'full', 'requested')"
    )


def downgrade() -> None:
    with op.batch_alter_table("waste_entry") as batch_op:
        batch_op.drop_column("arrived_at")
        batch_op.drop_column("began_at")
    with op.batch_alter_table("waste_container") as batch_op:
        batch_op.drop_column("arrived_at")
