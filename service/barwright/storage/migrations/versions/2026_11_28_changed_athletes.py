"""Every change of what an athlete's readiness rests on leaves another mark at the athlete."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "2026_11_28_changed_athletes"
down_revision = "2026_11_28_told_readiness"
branch_labels = None
depends_on = None

_TABLES = ("belief", "maximum", "plan", "point")
_DRAWN = {"postgresql": "gen_random_uuid()::text", "sqlite": "lower(hex(randomblob(16)))"}
_ROWS = {"INSERT": "NEW", "UPDATE": "OLD", "DELETE": "OLD"}  # no row ever becomes another athlete's


def upgrade() -> None:
    op.add_column("athlete", sa.Column("changed", sa.String(), nullable=True))
    drawn = _DRAWN[op.get_bind().dialect.name]
    on_postgresql = op.get_bind().dialect.name == "postgresql"
    op.execute(f"UPDATE athlete SET changed = {drawn}")
    if on_postgresql:
        op.execute(
            "CREATE FUNCTION athlete_changed() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
            f"UPDATE athlete SET changed = {drawn} WHERE id IN (SELECT athlete_id FROM touched); "
            "RETURN NULL; END $$"
        )
    for table in _TABLES:
        for deed, rows in _ROWS.items():
            trigger = f"CREATE TRIGGER {table}_{deed.lower()}_changes_athlete AFTER {deed} ON {table} "
            if on_postgresql:
                op.execute(
                    f"{trigger} REFERENCING {rows} TABLE AS touched "
                    "FOR EACH STATEMENT EXECUTE FUNCTION athlete_changed()"
                )
            else:
                op.execute(f"{trigger} BEGIN UPDATE athlete SET changed = {drawn} WHERE id = {rows}.athlete_id; END")


def downgrade() -> None:
    on_postgresql = op.get_bind().dialect.name == "postgresql"
    for table in _TABLES:
        for deed in _ROWS:
            where = f" ON {table}" if on_postgresql else ""
            op.execute(f"DROP TRIGGER {table}_{deed.lower()}_changes_athlete{where}")
    if on_postgresql:
        op.execute("DROP FUNCTION athlete_changed()")
    op.drop_column("athlete", "changed")
