"""Coaches, who is signed in, and links that sign in once."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = '2026_11_25_coaches'
down_revision = '2026_11_25_calibrations'
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table('coach',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('name', sa.String(), nullable=False),
    sa.Column('passphrase', sa.String(), nullable=True),
    sa.Column('weight_unit', sa.String(), nullable=False),
    sa.Column('created_at', sa.DateTime(), nullable=False),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_coach_club_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_coach')),
    sa.UniqueConstraint('name', name=op.f('uq_coach_name'))
    )
    op.create_index(op.f('ix_coach_club_id'), 'coach', ['club_id'], unique=False)
    for table in ('coach_session', 'sign_in_link'):
        op.create_table(table,
        sa.Column('digest', sa.String(), nullable=False),
        sa.Column('coach_id', sa.String(), nullable=False),
        sa.Column('expires_at', sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(['coach_id'], ['coach.id'], name=op.f(f'fk_{table}_coach_id'), ondelete='CASCADE'),
        sa.PrimaryKeyConstraint('digest', name=op.f(f'pk_{table}'))
        )
        op.create_index(op.f(f'ix_{table}_coach_id'), table, ['coach_id'], unique=False)
        op.create_index(op.f(f'ix_{table}_expires_at'), table, ['expires_at'], unique=False)


def downgrade() -> None:
    op.drop_table('sign_in_link')
    op.drop_table('coach_session')
    op.drop_table('coach')
