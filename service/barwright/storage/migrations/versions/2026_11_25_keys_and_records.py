"""Keys have labels, devices, ends and successors; what was done and how each analysis went is noted."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = '2026_11_25_keys_and_records'
down_revision = '2026_11_25_keeping_raw'
branch_labels = None
depends_on = None

_NEVER = "entries of the audit trail are neither changed nor deleted"


def upgrade() -> None:
    with op.batch_alter_table('api_key', schema=None) as batch_op:
        batch_op.add_column(sa.Column('label', sa.String(), nullable=True))
        batch_op.add_column(sa.Column('hint', sa.String(), nullable=True))
        batch_op.add_column(sa.Column('device_id', sa.String(), nullable=True))
        batch_op.add_column(sa.Column('expires_at', sa.DateTime(), nullable=True))
        batch_op.add_column(sa.Column('last_used_at', sa.DateTime(), nullable=True))
        batch_op.add_column(sa.Column('replaced_by', sa.String(), nullable=True))
        batch_op.create_foreign_key(
            batch_op.f('fk_api_key_device_id'), 'device', ['device_id'], ['id'], ondelete='CASCADE'
        )
        batch_op.create_index(batch_op.f('ix_api_key_device_id'), ['device_id'])
    number = sa.BigInteger().with_variant(sa.Integer(), 'sqlite')
    op.create_table(
        'audit_entry',
        sa.Column('id', number, nullable=False),
        sa.Column('club_id', sa.String(), nullable=False),
        sa.Column('at', sa.DateTime(), nullable=False),
        sa.Column('by', sa.String(), nullable=False),
        sa.Column('what', sa.String(), nullable=False),
        sa.Column('subject', sa.String(), nullable=True),
        sa.Column('details', sa.JSON(), nullable=False),
        sa.Column('request_id', sa.String(), nullable=True),
        sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_audit_entry_club_id')),
        sa.PrimaryKeyConstraint('id', name=op.f('pk_audit_entry')),
    )
    op.create_index('ix_audit_entry_order', 'audit_entry', ['club_id', 'id'])
    op.create_table(
        'analysis_run',
        sa.Column('id', number, nullable=False),
        sa.Column('club_id', sa.String(), nullable=False),
        sa.Column('set_id', sa.String(), nullable=False),
        sa.Column('ended_at', sa.DateTime(), nullable=False),
        sa.Column('seconds', sa.Float(), nullable=False),
        sa.Column('samples', sa.Integer(), nullable=False),
        sa.Column('outcome', sa.String(), nullable=False),
        sa.Column('reason_code', sa.String(), nullable=True),
        sa.ForeignKeyConstraint(['club_id'], ['club.id'], name=op.f('fk_analysis_run_club_id'), ondelete='CASCADE'),
        sa.ForeignKeyConstraint(['set_id'], ['lift_set.id'], name=op.f('fk_analysis_run_set_id'), ondelete='CASCADE'),
        sa.PrimaryKeyConstraint('id', name=op.f('pk_analysis_run')),
    )
    op.create_index('ix_analysis_run_order', 'analysis_run', ['club_id', 'id'])
    op.create_index(op.f('ix_analysis_run_set_id'), 'analysis_run', ['set_id'])
    if op.get_bind().dialect.name == 'postgresql':
        op.execute(
            f"CREATE FUNCTION audit_entry_stays() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{_NEVER}'; END $$"
        )
        op.execute(
            'CREATE TRIGGER audit_entry_stays BEFORE UPDATE OR DELETE ON audit_entry '
            'FOR EACH ROW EXECUTE FUNCTION audit_entry_stays()'
        )
    else:
        for deed in ('UPDATE', 'DELETE'):
            op.execute(
                f"CREATE TRIGGER audit_entry_no_{deed.lower()} BEFORE {deed} ON audit_entry "
                f"BEGIN SELECT RAISE(ABORT, '{_NEVER}'); END"
            )


def downgrade() -> None:
    op.drop_index(op.f('ix_analysis_run_set_id'), table_name='analysis_run')
    op.drop_index('ix_analysis_run_order', table_name='analysis_run')
    op.drop_table('analysis_run')
    op.drop_index('ix_audit_entry_order', table_name='audit_entry')
    op.drop_table('audit_entry')
    if op.get_bind().dialect.name == 'postgresql':
        op.execute('DROP FUNCTION audit_entry_stays()')
    with op.batch_alter_table('api_key', schema=None) as batch_op:
        batch_op.drop_index(batch_op.f('ix_api_key_device_id'))
        for name in ('replaced_by', 'last_used_at', 'expires_at', 'device_id', 'hint', 'label'):
            batch_op.drop_column(name)
