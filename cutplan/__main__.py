"""Entry point: ``cutplan`` and ``python -m cutplan``."""

from __future__ import annotations

import io
import sys

from cutplan.base.errors import CutplanError

__all__ = ["main"]

INTERRUPTED = 130
"""Exit code after Ctrl-C: 128 and the number of the signal, as shells have it."""


def main() -> None:
    """Run the command line; errors meant for people end it without a traceback."""
    for stream in (sys.stdout, sys.stderr):
        # A code page without ² or × must not end a plan whose files are written already.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        from cutplan.cli import app

        app(prog_name="cutplan", standalone_mode=True)
    except CutplanError as problem:
        print(f"error: {problem}", file=sys.stderr)
        sys.exit(problem.exit_code)
    except SystemExit as ending:
        # The command line turns Ctrl-C into this exit code without a word.
        if ending.code == INTERRUPTED:
            print("stopped; nothing was written", file=sys.stderr)
        raise
    except KeyboardInterrupt:
        print("stopped; nothing was written", file=sys.stderr)
        sys.exit(INTERRUPTED)
    except MemoryError:
        print("error: this takes more memory than there is; plan fewer parts at once", file=sys.stderr)
        sys.exit(2)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)


if __name__ == "__main__":
    main()
