"""The command line: parse, call, print paths."""

from etudegen.cli.app import main

__all__ = ["main"]
