"""The command line: one thin face of the acts. Exit 0 done, 1 refused with one line, 2 wrong usage."""

from __future__ import annotations

import sys

from invdb.terms import Refused


def main() -> None:
    """Run the command line; a refusal is one line on stderr and exit code 1."""
    try:
        _run(sys.argv[1:])
    except Refused as refused:
        print(str(refused).replace("\n", " "), file=sys.stderr)
        raise SystemExit(1) from None
    except BrokenPipeError:
        raise SystemExit(1) from None
    except OSError as error:
        print(
            f"{error.filename or 'A file'} can't be used: {error.strerror}. Check its name.", file=sys.stderr
        )
        raise SystemExit(1) from None


def _run(words: list[str]) -> None:
    # The commands load the acts and the database, for which a window needn't wait.
    if words in ([], ["open"]):
        from gui.opening import run

        run()
        return
    from invdb.cli.commands import app

    app()
