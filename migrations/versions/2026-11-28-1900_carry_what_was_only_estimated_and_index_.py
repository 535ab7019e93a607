"""carry what was only estimated and index the ledger by when"""

import sqlalchemy as sa
from alembic import op

revision = "f28faa12501e"
down_revision = "5b7d0c9e41fa"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("waste_container", schema=None) as batch_op:
        batch_op.add_column(sa.Column("estimated_ul", sa.Integer(), server_default="0", nullable=False))
        batch_op.create_check_constraint(
            op.f("ck_waste_container_estimated_ul_not_negative"), "estimated_ul >= 0"
        )
    op.execute(
        "UPDATE waste_container SET estimated_ul = (SELECT coalesce(sum(change_ul), 0) FROM waste_entry "
        "WHERE container_id = waste_container.id AND method = 'estimate' "
        "AND CASE WHEN kind = 'correction' THEN change_ul < 0 ELSE change_ul > 0 END)"
    )
    with op.batch_alter_table("waste_entry", schema=None) as batch_op:
        batch_op.create_index("ix_waste_entry_entered_at", ["lab_id", "entered_at", "id"], unique=False)
        batch_op.create_index(
            "ix_waste_entry_of_container_happened_at", ["container_id", "happened_at"], unique=False
        )


def downgrade() -> None:
    with op.batch_alter_table("waste_entry", schema=None) as batch_op:
        batch_op.drop_index("ix_waste_entry_of_container_happened_at")
        batch_op.drop_index("ix_waste_entry_entered_at")
    with op.batch_alter_table("waste_container", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_waste_container_estimated_ul_not_negative"), type_="check")
        batch_op.drop_column("estimated_ul")
