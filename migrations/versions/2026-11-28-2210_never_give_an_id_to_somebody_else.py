"""never give an id to somebody else"""

from alembic import op

revision = "7c1e94d05ab3"
down_revision = "04aea09a4b84"
branch_labels = None
depends_on = None

# A copy of a table on SQLite keeps only the checks that are made anew.
CHECKS = {
    "student": {},
    "rubric_criterion": {
        "by_is_known": "by IN ('student', 'group')",
        "has_a_weight": "weight_hundredths > 0",
    },
    "rubric_level": {"points_hundredths_not_negative": "points_hundredths >= 0"},
}


def upgrade() -> None:
    _copy(autoincrement=True)


def downgrade() -> None:
    _copy(autoincrement=False)


def _copy(*, autoincrement: bool) -> None:
    """PostgreSQL never gives an id twice as it is; SQLite is told when the table is made."""
    if op.get_bind().dialect.name != "sqlite":
        return
    for table, checks in CHECKS.items():
        with op.batch_alter_table(
            table, schema=None, recreate="always", table_kwargs={"sqlite_autoincrement": autoincrement}
        ) as batch_op:
            for name, rule in checks.items():
                batch_op.create_check_constraint(batch_op.f(f"ck_{table}_{name}"), rule)
