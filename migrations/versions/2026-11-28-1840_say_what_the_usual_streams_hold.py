"""say what the usual streams hold"""

import sqlalchemy as sa
from alembic import op

revision = "5b7d0c9e41fa"
down_revision = "5d1c0b7e92a4"
branch_labels = None
depends_on = None

USUAL = {
    "spent developer": ("10", "31", "105", "carbonates", "developer"),
    "spent bleach": ("1", "24", "104", "bleach"),
    "rinse": ("106", "traces"),
}


def upgrade() -> None:
    add = sa.text(
        "INSERT INTO stream_group (lab_id, stream_id, reactivity) "
        "SELECT lab_id, id, :reactivity FROM stream WHERE takes = :takes"
    )
    for takes, groups in USUAL.items():
        for reactivity in groups:
            op.execute(add.bindparams(takes=takes, reactivity=reactivity))


def downgrade() -> None:
    op.execute("DELETE FROM stream_group")
