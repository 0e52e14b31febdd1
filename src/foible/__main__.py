"""`python -m foible`."""

from foible.cli.main import run

if __name__ == "__main__":
    run()
