"""Calibrations of devices, and which one a set was analysed with."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = '2026_11_25_calibrations'
down_revision = '2026_11_25_device_starts'
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table('calibration',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('device_id', sa.String(), nullable=False),
    sa.Column('created_at', sa.DateTime(), nullable=False),
    sa.Column('found', sa.JSON(), nullable=False),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_calibration_club_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['device_id'], ['device.id'], name=op.f('fk_calibration_device_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_calibration'))
    )
    with op.batch_alter_table('calibration', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_calibration_club_id'), ['club_id'], unique=False)
        batch_op.create_index('ix_calibration_order', ['device_id', 'created_at', 'id'], unique=False)

    op.add_column('lift_set', sa.Column('calibration_id', sa.String(), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table('lift_set', schema=None) as batch_op:
        batch_op.drop_column('calibration_id')
    op.drop_table('calibration')
