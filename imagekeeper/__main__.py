"""The program: `imagekeeper`, or `python -m imagekeeper`."""

import sys


def main() -> None:
    """Run the command line and exit with its code."""
    if sys.argv[1:] == ["--version"] and sys.stdout is not None:   # answered before anything else is loaded
        from contextlib import suppress  # the answer needs no more

        from imagekeeper.version import __version__  # the answer itself

        with suppress(OSError):   # what is wrong with the output is told below, where everything is told
            sys.stdout.write(f"imagekeeper {__version__}\n")
            sys.stdout.flush()
            sys.exit(0)
    from imagekeeper.cli import run  # --version is answered without

    code = run(sys.argv[1:])
    if code == 130:
        # after an early interrupt the interpreter now and then ends itself by the signal, whatever code it is given
        # (seen in 9 of 39 runs); everything is told, flushed and put back by now
        import os  # only where somebody interrupts

        os._exit(code)
    sys.exit(code)


if __name__ == "__main__":
    main()
