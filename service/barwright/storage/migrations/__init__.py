"""One Alembic tree for both databases."""
