"""Errors of the statistics room: one, because everything here is arithmetic on what was given."""


class StatsError(ValueError):
    """A count, proportion or level out of range; the message names it, what was given and what is allowed."""
