"""Rounds in which a whole archive is analysed again."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = '2026_11_25_rounds'
down_revision = '2026_11_25_device_bench'
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        'round_done',
        sa.Column('round', sa.String(), nullable=False),
        sa.Column('set_id', sa.String(), nullable=False),
        sa.Column('club_id', sa.String(), nullable=False),
        sa.Column('at', sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_round_done_club_id'), ondelete='CASCADE'),
        sa.ForeignKeyConstraint(['set_id'], ['lift_set.id'], name=op.f('fk_round_done_set_id'), ondelete='CASCADE'),
        sa.PrimaryKeyConstraint('round', 'set_id', name=op.f('pk_round_done')),
    )
    op.create_index(op.f('ix_round_done_club_id'), 'round_done', ['club_id'])


def downgrade() -> None:
    op.drop_index(op.f('ix_round_done_club_id'), table_name='round_done')
    op.drop_table('round_done')
