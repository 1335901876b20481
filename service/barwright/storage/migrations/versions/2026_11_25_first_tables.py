"""First tables: clubs, keys, athletes, devices, streams, blocks, sets, reps, kept answers."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = '2026_11_25_first_tables'
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table('club',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('name', sa.String(), nullable=False),
    sa.Column('created_at', sa.DateTime(), nullable=False),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_club')),
    sa.UniqueConstraint('name', name=op.f('uq_club_name'))
    )
    op.create_table('heartbeat',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('at', sa.DateTime(), nullable=False),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_heartbeat'))
    )
    op.create_table('answer',
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('key', sa.String(), nullable=False),
    sa.Column('payload_digest', sa.String(), nullable=False),
    sa.Column('body', sa.LargeBinary(), nullable=False),
    sa.Column('created_at', sa.DateTime(), nullable=False),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_answer_club_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('club_id', 'key', name=op.f('pk_answer'))
    )
    with op.batch_alter_table('answer', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_answer_created_at'), ['created_at'], unique=False)

    op.create_table('api_key',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('digest', sa.String(), nullable=False),
    sa.Column('scopes', sa.String(), nullable=False),
    sa.Column('created_at', sa.DateTime(), nullable=False),
    sa.Column('revoked_at', sa.DateTime(), nullable=True),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_api_key_club_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_api_key')),
    sa.UniqueConstraint('digest', name=op.f('uq_api_key_digest'))
    )
    with op.batch_alter_table('api_key', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_api_key_club_id'), ['club_id'], unique=False)

    op.create_table('athlete',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('name', sa.String(), nullable=False),
    sa.Column('birth_year', sa.Integer(), nullable=True),
    sa.Column('sex', sa.String(), nullable=True),
    sa.Column('body_mass_kg', sa.Float(), nullable=True),
    sa.Column('stature_m', sa.Float(), nullable=True),
    sa.Column('level', sa.String(), nullable=True),
    sa.Column('created_at', sa.DateTime(), nullable=False),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_athlete_club_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_athlete')),
    sa.UniqueConstraint('club_id', 'name', name='uq_athlete_name')
    )
    op.create_table('device',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('name', sa.String(), nullable=False),
    sa.Column('kind', sa.String(), nullable=False),
    sa.Column('mounting', sa.JSON(), nullable=False),
    sa.Column('device_class', sa.String(), nullable=True),
    sa.Column('ranges', sa.JSON(), nullable=False),
    sa.Column('created_at', sa.DateTime(), nullable=False),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_device_club_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_device')),
    sa.UniqueConstraint('club_id', 'name', name='uq_device_name')
    )
    op.create_table('stream',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('athlete_id', sa.String(), nullable=False),
    sa.Column('device_id', sa.String(), nullable=False),
    sa.Column('lift', sa.String(), nullable=False),
    sa.Column('load_kg', sa.Float(), nullable=False),
    sa.Column('started_at', sa.DateTime(), nullable=False),
    sa.Column('units', sa.JSON(), nullable=False),
    sa.Column('rate_hz', sa.Float(), nullable=True),
    sa.Column('setup', sa.JSON(), nullable=False),
    sa.Column('notes', sa.JSON(), nullable=False),
    sa.Column('created_at', sa.DateTime(), nullable=False),
    sa.Column('closed_at', sa.DateTime(), nullable=True),
    sa.Column('raw_object', sa.String(), nullable=True),
    sa.Column('raw_digest', sa.String(), nullable=True),
    sa.ForeignKeyConstraint(['athlete_id'], ['athlete.id'], name=op.f('fk_stream_athlete_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_stream_club_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['device_id'], ['device.id'], name=op.f('fk_stream_device_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_stream'))
    )
    with op.batch_alter_table('stream', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_stream_athlete_id'), ['athlete_id'], unique=False)
        batch_op.create_index(batch_op.f('ix_stream_club_id'), ['club_id'], unique=False)
        batch_op.create_index(batch_op.f('ix_stream_device_id'), ['device_id'], unique=False)

    op.create_table('block',
    sa.Column('id', sa.Integer(), nullable=False),
    sa.Column('stream_id', sa.String(), nullable=False),
    sa.Column('boot', sa.String(), nullable=False),
    sa.Column('seq', sa.BigInteger(), nullable=False),
    sa.Column('digest', sa.String(), nullable=False),
    sa.Column('samples', sa.Integer(), nullable=False),
    sa.Column('first_us', sa.BigInteger(), nullable=False),
    sa.Column('last_us', sa.BigInteger(), nullable=False),
    sa.Column('received_at', sa.DateTime(), nullable=False),
    sa.ForeignKeyConstraint(['stream_id'], ['stream.id'], name=op.f('fk_block_stream_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_block')),
    sa.UniqueConstraint('stream_id', 'boot', 'seq', name='uq_block_identity')
    )
    op.create_table('lift_set',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('stream_id', sa.String(), nullable=False),
    sa.Column('athlete_id', sa.String(), nullable=False),
    sa.Column('device_id', sa.String(), nullable=False),
    sa.Column('lift', sa.String(), nullable=False),
    sa.Column('load_kg', sa.Float(), nullable=False),
    sa.Column('started_at', sa.DateTime(), nullable=False),
    sa.Column('state', sa.String(), nullable=False),
    sa.Column('revision', sa.Integer(), nullable=False),
    sa.Column('method', sa.String(), nullable=True),
    sa.Column('quality', sa.JSON(), nullable=True),
    sa.Column('notes', sa.JSON(), nullable=False),
    sa.Column('reason', sa.String(), nullable=True),
    sa.Column('reason_code', sa.String(), nullable=True),
    sa.Column('analysed_at', sa.DateTime(), nullable=True),
    sa.ForeignKeyConstraint(['athlete_id'], ['athlete.id'], name=op.f('fk_lift_set_athlete_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_lift_set_club_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['device_id'], ['device.id'], name=op.f('fk_lift_set_device_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['stream_id'], ['stream.id'], name=op.f('fk_lift_set_stream_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_lift_set')),
    sa.UniqueConstraint('stream_id', name=op.f('uq_lift_set_stream_id'))
    )
    with op.batch_alter_table('lift_set', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_lift_set_athlete_id'), ['athlete_id'], unique=False)
        batch_op.create_index(batch_op.f('ix_lift_set_device_id'), ['device_id'], unique=False)
        batch_op.create_index('ix_lift_set_order', ['club_id', 'started_at', 'id'], unique=False)
        batch_op.create_index(batch_op.f('ix_lift_set_state'), ['state'], unique=False)

    op.create_table('block_body',
    sa.Column('block_id', sa.Integer(), nullable=False),
    sa.Column('stream_id', sa.String(), nullable=False),
    sa.Column('body', sa.LargeBinary(), nullable=False),
    sa.ForeignKeyConstraint(['block_id'], ['block.id'], name=op.f('fk_block_body_block_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['stream_id'], ['stream.id'], name=op.f('fk_block_body_stream_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('block_id', name=op.f('pk_block_body'))
    )
    with op.batch_alter_table('block_body', schema=None) as batch_op:
        batch_op.create_index(batch_op.f('ix_block_body_stream_id'), ['stream_id'], unique=False)

    op.create_table('rep',
    sa.Column('set_id', sa.String(), nullable=False),
    sa.Column('index', sa.Integer(), nullable=False),
    sa.Column('outcome', sa.String(), nullable=False),
    sa.Column('start_s', sa.Float(), nullable=False),
    sa.Column('stop_s', sa.Float(), nullable=False),
    sa.Column('measures', sa.JSON(), nullable=False),
    sa.Column('phases', sa.JSON(), nullable=False),
    sa.Column('path_measures', sa.JSON(), nullable=False),
    sa.Column('notes', sa.JSON(), nullable=False),
    sa.Column('path', sa.LargeBinary(), nullable=False),
    sa.ForeignKeyConstraint(['set_id'], ['lift_set.id'], name=op.f('fk_rep_set_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('set_id', 'index', name=op.f('pk_rep'))
    )


def downgrade() -> None:
    for table in ('rep', 'block_body', 'lift_set', 'block', 'stream', 'device', 'athlete', 'api_key', 'answer', 'club'):
        op.drop_table(table)
