"""Records and people: the casebook, plans and seals, running trials, words, reports, the command line."""
