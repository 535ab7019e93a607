"""say what kind of place keeps a rule set, and whether its waste goes far"""

import sqlalchemy as sa
from alembic import op

revision = "5d1c0b7e92a4"
down_revision = "c4e046c2c3e4"
branch_labels = None
depends_on = None

PLACES = "establishment IN ('university', 'affiliate', 'school', 'other')"


def upgrade() -> None:
    with op.batch_alter_table("rule_choice") as batch_op:
        batch_op.add_column(sa.Column("establishment", sa.String(), server_default="other", nullable=False))
        batch_op.add_column(sa.Column("is_far", sa.Boolean(), server_default=sa.false(), nullable=False))
        batch_op.create_check_constraint(op.f("ck_rule_choice_establishment_is_known"), PLACES)


def downgrade() -> None:
    with op.batch_alter_table("rule_choice") as batch_op:
        batch_op.drop_constraint(op.f("ck_rule_choice_establishment_is_known"), type_="check")
        batch_op.drop_column("is_far")
        batch_op.drop_column("establishment")
