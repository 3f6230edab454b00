"""What a person does: one act, one function, one transaction."""
