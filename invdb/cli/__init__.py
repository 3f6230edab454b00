"""The command line: one thin face of the acts. Exit 0 done, 1 refused with one line, 2 wrong usage."""

from __future__ import annotations

import io
import os
import sys

from invdb.terms import Asked, Refused, on_one_line


def main() -> None:
    """Run the command line; a refusal is one line on stderr and exit code 1."""
    for stream in (sys.stdout, sys.stderr):
        # A terminal that has no such letter shows its code point; the answer is not lost for it.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    try:
        try:
            _run(sys.argv[1:])
        finally:
            if sys.stdout is not None:
                sys.stdout.flush()
    except Refused as refused:
        said = str(refused).replace("\n", " ")
        # A question is answered with an option where a window has a box to tick.
        print(f"{said.removesuffix('.')} (--sure)." if isinstance(refused, Asked) else said, file=sys.stderr)
        raise SystemExit(1) from None
    except BrokenPipeError:
        raise SystemExit(1) from None
    except OSError as error:
        if error.filename is not None:
            said = on_one_line(f"{error.filename} can't be used: {error.strerror}. Check its name.")
        else:
            # What has no name is where the answers go. What is left unsaid would be tried again at the end.
            said = f"The answer can't be written: {error.strerror}. Send it elsewhere; what was done stands."
            with open(os.devnull, "w") as nowhere:
                os.dup2(nowhere.fileno(), 1)
        print(said, file=sys.stderr)
        raise SystemExit(1) from None


def _run(words: list[str]) -> None:
    # The commands load the acts and the database, for which a window needn't wait.
    if words in ([], ["open"]):
        from invdb.cli.window import open_window

        open_window(None)
        return
    from invdb.cli.commands import app

    app()
