"""The desktop window."""
