"""The log of descriptor words."""
