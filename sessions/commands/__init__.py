"""The command line, one command a module."""
