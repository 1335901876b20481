"""Raw samples kept in part or no more, objects still to delete, consent and a note about the guardian."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op


revision = '2026_11_25_keeping_raw'
down_revision = '2026_11_25_row_numbers'
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        'thinned_stream',
        sa.Column('stream_id', sa.String(), nullable=False),
        sa.Column('club_id', sa.String(), nullable=False),
        sa.Column('form', sa.String(), nullable=False),
        sa.Column('facts', sa.JSON(), nullable=False),
        sa.Column('at', sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_thinned_stream_club_id'), ondelete='CASCADE'),
        sa.ForeignKeyConstraint(['stream_id'], ['stream.id'], name=op.f('fk_thinned_stream_stream_id'), ondelete='CASCADE'),
        sa.PrimaryKeyConstraint('stream_id', name=op.f('pk_thinned_stream')),
    )
    op.create_index(op.f('ix_thinned_stream_club_id'), 'thinned_stream', ['club_id'])
    op.create_table(
        'doomed_object',
        sa.Column('name', sa.String(), nullable=False),
        sa.Column('since', sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint('name', name=op.f('pk_doomed_object')),
    )
    with op.batch_alter_table('athlete', schema=None) as batch_op:
        batch_op.add_column(sa.Column('consent_on', sa.Date(), nullable=True))
        batch_op.add_column(sa.Column('guardian_note', sa.String(), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table('athlete', schema=None) as batch_op:
        batch_op.drop_column('guardian_note')
        batch_op.drop_column('consent_on')
    op.drop_table('doomed_object')
    op.drop_index(op.f('ix_thinned_stream_club_id'), table_name='thinned_stream')
    op.drop_table('thinned_stream')
