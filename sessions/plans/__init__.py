"""A test fixed in advance: methods, keys, criterion, seal."""
