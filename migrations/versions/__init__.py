"""One step a file."""
