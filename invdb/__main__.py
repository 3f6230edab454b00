"""Run the command line as ``python -m invdb``."""

from invdb.cli import main

main()
