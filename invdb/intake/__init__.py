"""Reading sheets of other people's making into the store."""
