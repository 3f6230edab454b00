"""The tables, and the ledger that every one of them is derived from."""
