"""Ways to the latest sets of an athlete or of a lift, and to the latest streams of a club or a device."""

from __future__ import annotations

from alembic import op

revision = "2026_11_25_ways_to_sets"
down_revision = "2026_11_25_rounds"
branch_labels = None
depends_on = None

_NEW = (
    ("lift_set", "ix_lift_set_of_athlete", ["athlete_id", "started_at", "id"]),
    ("lift_set", "ix_lift_set_of_lift", ["club_id", "lift", "started_at", "id"]),
    ("stream", "ix_stream_order", ["club_id", "created_at", "id"]),
    ("stream", "ix_stream_of_device", ["device_id", "created_at", "id"]),
)
_OLD = (
    ("lift_set", "ix_lift_set_athlete_id", ["athlete_id"]),
    ("stream", "ix_stream_club_id", ["club_id"]),
    ("stream", "ix_stream_device_id", ["device_id"]),
)


def upgrade() -> None:
    for table, name, columns in _NEW:
        op.create_index(name, table, columns)
    for table, name, _columns in _OLD:
        op.drop_index(name, table)


def downgrade() -> None:
    for table, name, columns in _OLD:
        op.create_index(name, table, columns)
    for table, name, _columns in _NEW:
        op.drop_index(name, table)
