"""Row numbers of 64 bits on PostgreSQL too; how often the analysis of a set was asked for."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = '2026_11_25_row_numbers'
down_revision = '2026_11_25_technique'
branch_labels = None
depends_on = None

_NUMBERED = (('block', 'id'), ('block_body', 'block_id'), ('device_start', 'id'), ('feed_block', 'id'), ('live_event', 'id'))


def upgrade() -> None:
    with op.batch_alter_table('lift_set', schema=None) as batch_op:
        batch_op.add_column(sa.Column('asked', sa.Integer(), nullable=False, server_default='0'))
    if op.get_bind().dialect.name == 'postgresql':  # every INTEGER of SQLite has 64 bits
        for table, column in _NUMBERED:
            op.alter_column(table, column, type_=sa.BigInteger(), existing_type=sa.Integer())
            if column == 'id':
                op.execute(f'ALTER SEQUENCE {table}_id_seq AS BIGINT')


def downgrade() -> None:
    with op.batch_alter_table('lift_set', schema=None) as batch_op:
        batch_op.drop_column('asked')
