"""Club settings, efforts, maxima, plans, decisions, corrections."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = '2026_11_25_training'
down_revision = '2026_11_25_coaches'
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table('club_settings',
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('settings', sa.JSON(), nullable=False),
    sa.Column('changed_at', sa.DateTime(), nullable=False),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_club_settings_club_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('club_id', name=op.f('pk_club_settings'))
    )
    op.create_table('decision',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('athlete_id', sa.String(), nullable=False),
    sa.Column('day', sa.Date(), nullable=False),
    sa.Column('lift', sa.String(), nullable=False),
    sa.Column('kind', sa.String(), nullable=False),
    sa.Column('plan_id', sa.String(), nullable=True),
    sa.Column('set_number', sa.Integer(), nullable=True),
    sa.Column('load_kg', sa.Float(), nullable=True),
    sa.Column('reason', sa.String(), nullable=False),
    sa.Column('created_at', sa.DateTime(), nullable=False),
    sa.ForeignKeyConstraint(['athlete_id'], ['athlete.id'], name=op.f('fk_decision_athlete_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_decision_club_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_decision'))
    )
    with op.batch_alter_table('decision', schema=None) as batch_op:
        batch_op.create_index('ix_decision_of_athlete', ['athlete_id', 'day', 'created_at', 'id'], unique=False)

    op.create_table('maximum',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('athlete_id', sa.String(), nullable=False),
    sa.Column('lift', sa.String(), nullable=False),
    sa.Column('day', sa.Date(), nullable=False),
    sa.Column('load_kg', sa.Float(), nullable=False),
    sa.Column('note', sa.String(), nullable=True),
    sa.Column('source', sa.String(), nullable=False),
    sa.Column('created_at', sa.DateTime(), nullable=False),
    sa.ForeignKeyConstraint(['athlete_id'], ['athlete.id'], name=op.f('fk_maximum_athlete_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_maximum_club_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_maximum'))
    )
    with op.batch_alter_table('maximum', schema=None) as batch_op:
        batch_op.create_index('ix_maximum_of_athlete', ['athlete_id', 'lift', 'day'], unique=False)

    op.create_table('plan',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('athlete_id', sa.String(), nullable=False),
    sa.Column('day', sa.Date(), nullable=False),
    sa.Column('sets', sa.JSON(), nullable=False),
    sa.Column('note', sa.String(), nullable=True),
    sa.Column('created_at', sa.DateTime(), nullable=False),
    sa.ForeignKeyConstraint(['athlete_id'], ['athlete.id'], name=op.f('fk_plan_athlete_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_plan_club_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_plan'))
    )
    with op.batch_alter_table('plan', schema=None) as batch_op:
        batch_op.create_index('ix_plan_of_athlete', ['athlete_id', 'day', 'created_at', 'id'], unique=False)

    op.create_table('effort',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('athlete_id', sa.String(), nullable=False),
    sa.Column('lift', sa.String(), nullable=False),
    sa.Column('day', sa.Date(), nullable=False),
    sa.Column('at', sa.DateTime(), nullable=True),
    sa.Column('set_id', sa.String(), nullable=True),
    sa.Column('number', sa.Integer(), nullable=True),
    sa.Column('load_kg', sa.Float(), nullable=False),
    sa.Column('made', sa.Integer(), nullable=False),
    sa.Column('missed', sa.Integer(), nullable=False),
    sa.Column('velocity', sa.Float(), nullable=True),
    sa.Column('u', sa.Float(), nullable=True),
    sa.Column('rep', sa.Integer(), nullable=True),
    sa.Column('reps', sa.JSON(), nullable=False),
    sa.Column('note', sa.String(), nullable=True),
    sa.ForeignKeyConstraint(['athlete_id'], ['athlete.id'], name=op.f('fk_effort_athlete_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_effort_club_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['set_id'], ['lift_set.id'], name=op.f('fk_effort_set_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_effort')),
    sa.UniqueConstraint('set_id', name=op.f('uq_effort_set_id'))
    )
    with op.batch_alter_table('effort', schema=None) as batch_op:
        batch_op.create_index('ix_effort_of_athlete', ['athlete_id', 'lift', 'day'], unique=False)
        batch_op.create_index('ix_effort_of_club', ['club_id', 'day'], unique=False)

    op.create_table('point',
    sa.Column('athlete_id', sa.String(), nullable=False),
    sa.Column('lift', sa.String(), nullable=False),
    sa.Column('day', sa.Date(), nullable=False),
    sa.Column('load_kg', sa.Float(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('made', sa.Integer(), nullable=False),
    sa.Column('missed', sa.Integer(), nullable=False),
    sa.Column('velocity', sa.Float(), nullable=True),
    sa.Column('u', sa.Float(), nullable=True),
    sa.Column('among', sa.Integer(), nullable=False),
    sa.Column('luck', sa.Float(), nullable=False),
    sa.ForeignKeyConstraint(['athlete_id'], ['athlete.id'], name=op.f('fk_point_athlete_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_point_club_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('athlete_id', 'lift', 'day', 'load_kg', name=op.f('pk_point'))
    )
    with op.batch_alter_table('point', schema=None) as batch_op:
        batch_op.create_index('ix_point_of_club', ['club_id', 'day'], unique=False)

    op.create_table('rep_correction',
    sa.Column('set_id', sa.String(), nullable=False),
    sa.Column('start_s', sa.Float(), nullable=False),
    sa.Column('stop_s', sa.Float(), nullable=False),
    sa.Column('outcome', sa.String(), nullable=True),
    sa.Column('excluded', sa.Boolean(), nullable=False),
    sa.Column('reason', sa.String(), nullable=False),
    sa.Column('created_at', sa.DateTime(), nullable=False),
    sa.ForeignKeyConstraint(['set_id'], ['lift_set.id'], name=op.f('fk_rep_correction_set_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('set_id', 'start_s', name=op.f('pk_rep_correction'))
    )
    op.create_table('set_correction',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('set_id', sa.String(), nullable=False),
    sa.Column('rep', sa.Integer(), nullable=True),
    sa.Column('changes', sa.JSON(), nullable=False),
    sa.Column('reason', sa.String(), nullable=False),
    sa.Column('created_at', sa.DateTime(), nullable=False),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_set_correction_club_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['set_id'], ['lift_set.id'], name=op.f('fk_set_correction_set_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_set_correction'))
    )
    with op.batch_alter_table('set_correction', schema=None) as batch_op:
        batch_op.create_index('ix_set_correction_order', ['set_id', 'created_at', 'id'], unique=False)
    op.create_table('belief',
    sa.Column('athlete_id', sa.String(), nullable=False),
    sa.Column('lift', sa.String(), nullable=False),
    sa.Column('until', sa.Date(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('method', sa.String(), nullable=False),
    sa.Column('document', sa.JSON(), nullable=False),
    sa.ForeignKeyConstraint(['athlete_id'], ['athlete.id'], name=op.f('fk_belief_athlete_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_belief_club_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('athlete_id', 'lift', 'until', name=op.f('pk_belief'))
    )


def downgrade() -> None:
    for table in ('belief', 'point', 'set_correction', 'rep_correction', 'effort', 'plan', 'maximum', 'decision', 'club_settings'):
        op.drop_table(table)
