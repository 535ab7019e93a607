"""say in the ledger of a batch which tray it went into"""

from alembic import op

revision = "5b0e0c2f7d14"
down_revision = "df6eedd92863"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.execute(
        "UPDATE batch_entry SET note = 'into ' || ("
        "SELECT place.name FROM charge JOIN place ON place.id = charge.place_id WHERE charge.id = batch_entry.charge_id"
        ") WHERE kind = 'charged' AND charge_id IS NOT NULL AND note = ''"
    )


def downgrade() -> None:
    op.execute("UPDATE batch_entry SET note = '' WHERE kind = 'charged' AND charge_id IS NOT NULL")
