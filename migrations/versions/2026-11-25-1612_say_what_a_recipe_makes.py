"""say what a recipe makes, how long it keeps, and how pure and dense its components are"""

import sqlalchemy as sa
from alembic import op

revision = "ea827d20810b"
down_revision = "5b0e0c2f7d14"
branch_labels = None
depends_on = None

SOLUTIONS = "solution IN ('working developer', 'bleach', 'stock solution', 'other bath')"
SOLUTIONS_BEFORE = "solution IN ('working developer', 'bleach')"


def upgrade() -> None:
    # Recipes that were written before say nothing of what they make, and were written for pure components.
    with op.batch_alter_table("recipe", schema=None) as batch_op:
        batch_op.add_column(sa.Column("solution", sa.String(), nullable=False, server_default="other bath"))
        batch_op.add_column(sa.Column("usual", sa.Boolean(), nullable=False, server_default=sa.false()))
    with op.batch_alter_table("recipe", schema=None) as batch_op:
        batch_op.alter_column("solution", existing_type=sa.String(), server_default=None)
        batch_op.alter_column("usual", existing_type=sa.Boolean(), server_default=None)
        batch_op.create_check_constraint(op.f("ck_recipe_solution_is_known"), SOLUTIONS)
        batch_op.create_index(
            "ix_recipe_usual",
            ["lab_id", "solution"],
            unique=True,
            sqlite_where=sa.text("usual"),
            postgresql_where=sa.text("usual"),
        )

    with op.batch_alter_table("recipe_edition", schema=None) as batch_op:
        batch_op.add_column(sa.Column("life_s", sa.Integer(), nullable=True))
        batch_op.create_check_constraint(op.f("ck_recipe_edition_has_a_life"), "life_s > 0")

    with op.batch_alter_table("recipe_component", schema=None) as batch_op:
        batch_op.add_column(sa.Column("purity_ppm", sa.Integer(), nullable=False, server_default="1000000"))
        batch_op.add_column(sa.Column("density_ug_per_ul", sa.Integer(), nullable=True))
    with op.batch_alter_table("recipe_component", schema=None) as batch_op:
        batch_op.alter_column("purity_ppm", existing_type=sa.Integer(), server_default=None)
        batch_op.create_check_constraint(
            op.f("ck_recipe_component_purity_is_a_share"), "purity_ppm BETWEEN 1 AND 1000000"
        )
        batch_op.create_check_constraint(op.f("ck_recipe_component_has_a_density"), "density_ug_per_ul > 0")

    with op.batch_alter_table("batch", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_batch_solution_is_known"), type_="check")
        batch_op.create_check_constraint(op.f("ck_batch_solution_is_known"), SOLUTIONS)


def downgrade() -> None:
    with op.batch_alter_table("batch", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_batch_solution_is_known"), type_="check")
        batch_op.create_check_constraint(op.f("ck_batch_solution_is_known"), SOLUTIONS_BEFORE)

    with op.batch_alter_table("recipe_component", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_recipe_component_has_a_density"), type_="check")
        batch_op.drop_constraint(op.f("ck_recipe_component_purity_is_a_share"), type_="check")
        batch_op.drop_column("density_ug_per_ul")
        batch_op.drop_column("purity_ppm")

    with op.batch_alter_table("recipe_edition", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_recipe_edition_has_a_life"), type_="check")
        batch_op.drop_column("life_s")

    with op.batch_alter_table("recipe", schema=None) as batch_op:
        batch_op.drop_index("ix_recipe_usual")
        batch_op.drop_constraint(op.f("ck_recipe_solution_is_known"), type_="check")
        batch_op.drop_column("usual")
        batch_op.drop_column("solution")
