"""Every step that brought the tables to what they are, by Alembic."""
