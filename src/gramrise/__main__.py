"""`python -m gramrise`: the same as the command `gramrise`."""

from gramrise.cli.main import run

run()
