"""Which verdict on a day webhooks were told last; of the days before there was none to tell."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "2026_11_28_told_readiness"
down_revision = "2026_11_25_ways_to_sets"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "told_readiness",
        sa.Column("athlete_id", sa.String(), nullable=False),
        sa.Column("lift", sa.String(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("club_id", sa.String(), nullable=False),
        sa.Column("verdict", sa.String(), nullable=False),
        sa.Column("told_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["athlete_id"], ["athlete.id"], name=op.f("fk_told_readiness_athlete_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(["club_id"], ["club.id"], name=op.f("fk_told_readiness_club_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("athlete_id", "lift", "day", name=op.f("pk_told_readiness")),
    )


def downgrade() -> None:
    op.drop_table("told_readiness")
