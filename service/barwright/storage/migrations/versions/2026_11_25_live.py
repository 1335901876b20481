"""Events, live runs, feeds of devices that only stream, webhooks."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = '2026_11_25_live'
down_revision = '2026_11_25_training'
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table('webhook',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('url', sa.String(), nullable=False),
    sa.Column('secret', sa.String(), nullable=False),
    sa.Column('kinds', sa.JSON(), nullable=False),
    sa.Column('created_at', sa.DateTime(), nullable=False),
    sa.Column('ended_at', sa.DateTime(), nullable=True),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_webhook_club_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_webhook'))
    )
    with op.batch_alter_table('webhook', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_webhook_club_id'), ['club_id'], unique=False)

    op.create_table('delivery',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('webhook_id', sa.String(), nullable=False),
    sa.Column('athlete_id', sa.String(), nullable=False),
    sa.Column('kind', sa.String(), nullable=False),
    sa.Column('body', sa.String(), nullable=False),
    sa.Column('state', sa.String(), nullable=False),
    sa.Column('attempts', sa.Integer(), nullable=False),
    sa.Column('created_at', sa.DateTime(), nullable=False),
    sa.Column('next_at', sa.DateTime(), nullable=False),
    sa.Column('status', sa.Integer(), nullable=True),
    sa.Column('error', sa.String(), nullable=True),
    sa.ForeignKeyConstraint(['athlete_id'], ['athlete.id'], name=op.f('fk_delivery_athlete_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_delivery_club_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['webhook_id'], ['webhook.id'], name=op.f('fk_delivery_webhook_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_delivery'))
    )
    with op.batch_alter_table('delivery', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_delivery_athlete_id'), ['athlete_id'], unique=False)
        batch_op.create_index('ix_delivery_due', ['state', 'next_at'], unique=False)
        batch_op.create_index('ix_delivery_of_webhook', ['webhook_id', 'created_at', 'id'], unique=False)

    op.create_table('feed',
    sa.Column('device_id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('told', sa.JSON(), nullable=True),
    sa.Column('units', sa.JSON(), nullable=False),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_feed_club_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['device_id'], ['device.id'], name=op.f('fk_feed_device_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('device_id', name=op.f('pk_feed'))
    )
    op.create_table('feed_block',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('device_id', sa.String(), nullable=False),
    sa.Column('boot', sa.String(), nullable=False),
    sa.Column('seq', sa.BigInteger(), nullable=False),
    sa.Column('first_us', sa.BigInteger(), nullable=False),
    sa.Column('last_us', sa.BigInteger(), nullable=False),
    sa.Column('body', sa.LargeBinary(), nullable=False),
    sa.ForeignKeyConstraint(['device_id'], ['device.id'], name=op.f('fk_feed_block_device_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_feed_block')),
    sa.UniqueConstraint('device_id', 'boot', 'seq', name='uq_feed_block_identity')
    )
    op.create_table('feed_piece',
    sa.Column('stream_id', sa.String(), nullable=False),
    sa.Column('device_id', sa.String(), nullable=False),
    sa.Column('boot', sa.String(), nullable=False),
    sa.Column('first_seq', sa.BigInteger(), nullable=False),
    sa.Column('last_seq', sa.BigInteger(), nullable=True),
    sa.ForeignKeyConstraint(['device_id'], ['device.id'], name=op.f('fk_feed_piece_device_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['stream_id'], ['stream.id'], name=op.f('fk_feed_piece_stream_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('stream_id', name=op.f('pk_feed_piece'))
    )
    with op.batch_alter_table('feed_piece', schema=None) as batch_op:
        batch_op.create_index('ix_feed_piece_of_device', ['device_id', 'boot', 'first_seq'], unique=False)

    op.create_table('live_event',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('stream_id', sa.String(), nullable=False),
    sa.Column('athlete_id', sa.String(), nullable=False),
    sa.Column('kind', sa.String(), nullable=False),
    sa.Column('at', sa.DateTime(), nullable=False),
    sa.Column('data', sa.JSON(), nullable=False),
    sa.ForeignKeyConstraint(['athlete_id'], ['athlete.id'], name=op.f('fk_live_event_athlete_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_live_event_club_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['stream_id'], ['stream.id'], name=op.f('fk_live_event_stream_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_live_event')),
    sqlite_autoincrement=True
    )
    with op.batch_alter_table('live_event', schema=None) as batch_op:
        batch_op.create_index('ix_live_event_of_athlete', ['athlete_id', 'id'], unique=False)
        batch_op.create_index('ix_live_event_of_club', ['club_id', 'id'], unique=False)
        batch_op.create_index('ix_live_event_of_stream', ['stream_id', 'id'], unique=False)

    op.create_table('live_run',
    sa.Column('stream_id', sa.String(), nullable=False),
    sa.Column('velocity_loss', sa.Float(), nullable=True),
    sa.Column('memory', sa.JSON(), nullable=True),
    sa.ForeignKeyConstraint(['stream_id'], ['stream.id'], name=op.f('fk_live_run_stream_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('stream_id', name=op.f('pk_live_run'))
    )


def downgrade() -> None:
    for name in ('live_run', 'live_event', 'feed_piece', 'delivery', 'feed_block', 'feed', 'webhook'):
        op.drop_table(name)
