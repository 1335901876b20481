"""What has come of each device start, counted as blocks arrive."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = '2026_11_25_device_starts'
down_revision = '2026_11_25_first_tables'
branch_labels = None
depends_on = None

_COLUMNS = 'stream_id, boot, blocks, samples, first_us, last_us, last_seq'


def upgrade() -> None:
    op.create_table('device_start',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('stream_id', sa.String(), nullable=False),
    sa.Column('boot', sa.String(), nullable=False),
    sa.Column('blocks', sa.Integer(), nullable=False),
    sa.Column('samples', sa.Integer(), nullable=False),
    sa.Column('first_us', sa.BigInteger(), nullable=False),
    sa.Column('last_us', sa.BigInteger(), nullable=False),
    sa.Column('last_seq', sa.BigInteger(), nullable=False),
    sa.ForeignKeyConstraint(['stream_id'], ['stream.id'], name=op.f('fk_device_start_stream_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_device_start')),
    sa.UniqueConstraint('stream_id', 'boot', name='uq_device_start')
    )
    op.execute(
        f'INSERT INTO device_start ({_COLUMNS}) SELECT stream_id, boot, COUNT(*), SUM(samples), MIN(first_us), '
        'MAX(last_us), MAX(seq) FROM block GROUP BY stream_id, boot ORDER BY MIN(id)'
    )


def downgrade() -> None:
    op.drop_table('device_start')
