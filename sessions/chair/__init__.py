"""The listener's chair: what is asked, one thing at a time, on a terminal or on a page. It draws nothing."""
