"""`python -m stripdown.cli`, where the command is not on the path."""

from stripdown.cli import main

main()
