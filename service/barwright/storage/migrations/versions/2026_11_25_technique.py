"""Club drills, prescriptions, review."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = '2026_11_25_technique'
down_revision = '2026_11_25_live'
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table('club_drill',
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('code', sa.String(), nullable=False),
    sa.Column('facts', sa.JSON(), nullable=False),
    sa.Column('changed_at', sa.DateTime(), nullable=False),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_club_drill_club_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('club_id', 'code', name=op.f('pk_club_drill'))
    )
    op.create_table('prescription',
    sa.Column('id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('athlete_id', sa.String(), nullable=False),
    sa.Column('lift', sa.String(), nullable=False),
    sa.Column('fault', sa.String(), nullable=False),
    sa.Column('drill', sa.String(), nullable=False),
    sa.Column('given_on', sa.Date(), nullable=False),
    sa.Column('load_kg', sa.Float(), nullable=True),
    sa.Column('sets', sa.Integer(), nullable=False),
    sa.Column('reps', sa.Integer(), nullable=False),
    sa.Column('advised', sa.String(), nullable=True),
    sa.Column('reason', sa.String(), nullable=True),
    sa.Column('against_kg', sa.Float(), nullable=True),
    sa.Column('ended_on', sa.Date(), nullable=True),
    sa.Column('created_at', sa.DateTime(), nullable=False),
    sa.ForeignKeyConstraint(['athlete_id'], ['athlete.id'], name=op.f('fk_prescription_athlete_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_prescription_club_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('id', name=op.f('pk_prescription'))
    )
    with op.batch_alter_table('prescription', schema=None) as batch_op:
        batch_op.create_index('ix_prescription_of_athlete', ['athlete_id', 'given_on', 'id'], unique=False)

    op.create_table('remote_athlete',
    sa.Column('athlete_id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.ForeignKeyConstraint(['athlete_id'], ['athlete.id'], name=op.f('fk_remote_athlete_athlete_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_remote_athlete_club_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('athlete_id', name=op.f('pk_remote_athlete'))
    )
    op.create_table('looked_at',
    sa.Column('set_id', sa.String(), nullable=False),
    sa.Column('club_id', sa.String(), nullable=False),
    sa.Column('looked_at', sa.DateTime(), nullable=False),
    sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_looked_at_club_id'), ondelete='CASCADE'),
    sa.ForeignKeyConstraint(['set_id'], ['lift_set.id'], name=op.f('fk_looked_at_set_id'), ondelete='CASCADE'),
    sa.PrimaryKeyConstraint('set_id', name=op.f('pk_looked_at'))
    )


def downgrade() -> None:
    op.drop_table('looked_at')
    op.drop_table('remote_athlete')
    with op.batch_alter_table('prescription', schema=None) as batch_op:
        batch_op.drop_index('ix_prescription_of_athlete')

    op.drop_table('prescription')
    op.drop_table('club_drill')
