"""Claims: the sentences a reviewer wants to say, each with its evidence, its standing, and how it is worded."""
