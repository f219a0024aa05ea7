"""``python -m trace2pop``: the same command, by module."""

from trace2pop.cli import main

if __name__ == "__main__":
    main()
