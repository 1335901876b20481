"""What was checked of devices."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = '2026_11_25_device_bench'
down_revision = '2026_11_25_keys_and_records'
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table('device_bench',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('device_id', sa.String(), nullable=False),
    sa.Column('kind', sa.String(), nullable=False),
    sa.Column('created_at', sa.DateTime(), nullable=False),
    sa.Column('found', sa.JSON(), nullable=False),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_device_bench_club_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['device_id'], ['device.id'], name=op.f('fk_device_bench_device_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_device_bench'))
    )
    with op.batch_alter_table('device_bench', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_device_bench_club_id'), ['club_id'], unique=False)
        batch_op.create_index('ix_device_bench_order', ['device_id', 'kind', 'created_at', 'id'], unique=False)


def downgrade() -> None:
    op.drop_table('device_bench')
