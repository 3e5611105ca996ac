"""What goes out: the report page."""
