"""Plain functions from plain values to plain values: no database, no clock, no screen."""
